"""Plausible results built by hand, so that pages can be tested without the analysis. Everything here is invented."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import get_origin, get_type_hints

import numpy as np
import pyarrow as pa
from msgspec import Struct
from msgspec.structs import fields, replace

from analyser.core.aircraft import Aircraft, Antenna, AntennaLayout, Engine, FlightContext, FuelNote, Pack, Tank
from analyser.core.events import Attention, Event, Level
from analyser.core.figures import Figure, Method, Missing, Trace
from analyser.core.phases import Phase, PhaseName, Phases
from analyser.core.telemetry import Suspect, Telemetry
from analyser.engines.analysis import EngineResult, Start, TurbineResult
from analyser.flight import FlightResult
from analyser.fuel.analysis import FuelResult
from analyser.fuel.scale import unchecked_scale
from analyser.fuel.shares import PhaseBurn
from analyser.fuel.tank import BurnFigures, ContentFigures, ScaleFigures, SensorFigures, TankResult
from analyser.link.analysis import AntennaResult, LinkResult, ReceiverResult
from analyser.link.maps import AntennaMap
from analyser.packs.analysis import PackResult, PacksResult
from analyser.packs.charge import PackCharge, PhaseCharge
from analyser.packs.internal_resistance import PackResistance
from analyser.packs.use import Use
from analyser.packs.voltage import PackVoltage
from analyser.record import FlightRecord
from analyser.season.engines import EngineHistory
from analyser.season.fuel.history import BurnHistory, FuelHistory, ImbalanceHistory, TankHistory, TimerCurve
from analyser.season.fuel.timer import TimerTable
from analyser.season.link.comparison import LayoutComparison
from analyser.season.link.layouts import LayoutMaps, LayoutsResult
from analyser.season.packs.capacity import CapacityHistory
from analyser.season.packs.history import PackHistory
from analyser.season.packs.life import PackLife
from analyser.season.packs.resistance import ResistanceHistory
from analyser.season.packs.spread import SpreadHistory
from analyser.season.result import AircraftSeason, SeasonResult
from reports.model import FleetPage, FlightPage, OverFlights, Site, YearPage
from tests.reports import monitored
from tests.reports.compared import compared

LABEL = "Invented data: Fenholt model flying field and everything here are made up"


def fig(
    label: str, value: float, unit: str, *, plus: float | None = None, method: Method = Method.MEASURED, digits: int = 1
) -> Figure:
    if plus is not None:
        return Figure(
            label, value, unit, Method.ESTIMATED, value - plus, value + plus, how="a fit over the flight", digits=digits
        )
    return Figure(label, value, unit, method, how="from the log", digits=digits)


def lost(label: str, unit: str) -> Figure:
    return Figure.unavailable(label, unit, "the log has no such channel; a sensor would supply it")


_GROUPS = {"charge", "voltage", "state", "resistance", "capacity", "spread", "life"}
"""Fields that hold a group of figures, and are made empty like the figures in them."""


def make(cls: type, *args: object, **given: object):  # type: ignore[no-untyped-def]
    """Build a result; fields nobody gave are empty, so that results may grow without breaking these pages' tests."""
    names = [f.name for f in fields(cls)]
    values = dict(zip(names, args, strict=False)) | {k: v for k, v in given.items() if k in names}
    hints = get_type_hints(cls)
    for f in fields(cls):
        if f.name in values or not f.required:
            continue
        hint = hints[f.name]
        if hint is Figure:
            values[f.name] = lost(f.name.replace("_", " "), "")
        elif get_origin(hint) in (tuple, dict):
            values[f.name] = get_origin(hint)()
        elif hint in (str, bool, int, float):
            values[f.name] = hint()
        elif isinstance(hint, type) and issubclass(hint, Struct) and f.name in _GROUPS:
            values[f.name] = make(hint)
        else:
            values[f.name] = None
    return cls(**values)


PACKS = {
    "rx1": Pack("R1", "li_ion", 2, 5000.0, "rx1", date(2031, 3, 1), new_resistance_mohm=30.0),
    "rx2": Pack("R2", "li_ion", 2, 5000.0, "rx2", date(2029, 3, 1), new_resistance_mohm=30.0),
}
LAYOUT_A = AntennaLayout(
    "A",
    (Antenna("rx1", 1, (0.4, 0.0, 0.0), (0, 1, 0)), Antenna("rx1", 2, (-0.9, 0.0, -0.4), (1, 0, 0), name="fin")),
    date(2031, 4, 1),
)
LAYOUT_B = replace(LAYOUT_A, name="B", since=date(2031, 6, 1))
TERN = Aircraft(
    "Tern",
    24.0,
    (Engine("left", "left", "ecu_left"), Engine("right", "right", "ecu_right")),
    (Tank("left", 2600.0, engine="left"), Tank("right", 2600.0, engine="right")),
    layouts=(LAYOUT_A, LAYOUT_B),
    radio_mhz=2400.0,
)


def telemetry(duration_s: float = 420.0, rate_hz: float = 10.0, channels: int = 0, seed: int = 1) -> Telemetry:
    rng = np.random.default_rng(seed)
    t = np.round(np.arange(0.0, duration_s, 1.0 / rate_hz), 3)
    n = t.size
    air = (t > 90) & (t < duration_s - 60)
    turn = 2 * np.pi * t / 60.0
    slow = np.arange(n) % max(1, int(rate_hz)) != 0
    columns: dict[str, object] = {
        "time_s": t,
        "pack.rx1.voltage_v": 8.1 - 0.0006 * t + rng.normal(0, 0.01, n),
        "pack.rx2.voltage_v": 8.05 - 0.001 * t + rng.normal(0, 0.01, n) - 1.5 * ((t > 200) & (t < 200.6)),
        "pack.rx2.cell1_v": 4.05 - 0.0003 * t,
        "pack.rx2.cell2_v": 4.0 - 0.0007 * t,
        "pack.rx2.current_a": 1.4 + rng.gamma(2, 0.3, n),
        "fuel.left.remaining_ml": pa.array(2500 - 4.4 * t, mask=slow),
        "fuel.right.remaining_ml": pa.array(2500 - 3.9 * t, mask=slow),
        "engine.left.speed_rpm": np.where(air, 105_000.0, 33_000.0) + rng.normal(0, 200, n),
        "engine.right.speed_rpm": np.where(air, 104_000.0, 33_000.0) + rng.normal(0, 200, n),
        "engine.left.egt_c": np.where(air, 640.0, 480.0) + rng.normal(0, 4, n),
        "link.rx1.antenna1_rssi_dbm": np.round(-62 - 12 * np.abs(np.sin(turn)) + rng.normal(0, 2, n)),
        "link.rx1.antenna2_rssi_dbm": np.round(-60 - 22 * np.clip(np.cos(turn), 0, 1) + rng.normal(0, 2, n)),
        "link.rx1.lost_frames": np.cumsum(rng.random(n) < 0.002).astype(float),
        "position.latitude_deg": 54.0 + np.where(air, 0.002 * np.sin(turn), 0.0),
        "position.longitude_deg": 9.0 + np.where(air, 0.004 * np.cos(turn), 0.004),
        "position.altitude_m": np.where(air, 80.0 + 40 * np.sin(turn / 2), 12.0),
        "control.throttle_percent": np.where(air, 70.0 + 20 * np.sin(turn), 5.0),
        "control.gear": ~air,
        "extra.house_light": rng.normal(0, 1, n),
    }
    for i in range(channels):
        columns[f"pack.p{i}.voltage_v" if i % 2 else f"engine.e{i}.egt_c"] = 8 + i + np.cumsum(rng.normal(0, 0.01, n))
    return Telemetry(pa.table(columns), datetime(2031, 5, 1, 10, tzinfo=UTC), {"source": "tern.csv"}).screened(
        {}, SUSPECTS
    )


SUSPECTS = (Suspect("engine.left.egt_c", "spike", 120.0, 120.2, 2, "Two samples jump by 900 °C and back."),)
SAG = Event(
    "sag",
    "pack.rx2",
    200.0,
    200.6,
    Level.ACT,
    "R2 fell to 6.35 V for 0.6 s under gear retraction.",
    fig("Depth", 1.5, "V", digits=2),
    ("gear",),
)
FADE = Event(
    "fade",
    "link.rx1.antenna2",
    243.0,
    246.5,
    Level.WATCH,
    "Antenna 2 was 18 dB under what its distance explains.",
    fig("Depth", 18.0, "dB"),
    (),
)
NOTE = Event("reserve_reached", "fuel.left", 330.0, 330.0, Level.NOTE, "The left tank reached its reserve.")


def result(flight_id: str, duration_s: float = 420.0, n: int = 1, note: str = "") -> FlightResult:
    end = duration_s
    phases = make(
        Phases,
        phases=(
            Phase(PhaseName.BEFORE_START, 0, 20),
            Phase(PhaseName.START, 20, 50),
            Phase(PhaseName.IDLE, 50, 90),
            Phase(PhaseName.TAKE_OFF, 90, 100),
            Phase(PhaseName.FLIGHT, 100, end - 70),
            Phase(PhaseName.LANDING, end - 70, end - 60),
            Phase(PhaseName.COOL_DOWN, end - 60, end),
        ),
        take_off_s=90.0,
        touch_down_s=end - 60,
        airborne_s=end - 150,
        told_by=("engine.left.speed_rpm",),
    )
    t = np.linspace(0, end, 900)
    tanks = []
    for side, rate in (("left", 265.0 + 3 * n), ("right", 240.0)):
        tanks.append(
            make(
                TankResult,
                name=side,
                engine=side,
                burn=make(
                    BurnFigures,
                    burned=fig(f"Burned, {side}", rate * 6.1, "mL", plus=40, digits=0),
                    rate=fig(f"Burn rate while airborne, {side}", rate, "mL/min", plus=6, digits=0),
                ),
                content=make(
                    ContentFigures,
                    left=fig(f"Left at landing, {side}", 2500 - rate * 6, "mL", digits=0),
                    reserve=Figure(f"Reserve, {side}", 520.0, "mL", Method.ENTERED, digits=0),
                    margin=fig(f"Margin above reserve, {side}", 1980 - rate * 6, "mL", digits=0),
                ),
                scale=make(
                    ScaleFigures,
                    put_in=Figure(f"Put in afterwards, {side}", rate * 6.1, "mL", Method.ENTERED, digits=0),
                    applied=unchecked_scale(side, None),
                ),
                by_sensor=make(SensorFigures),
                phases=(
                    make(
                        PhaseBurn,
                        name="flight",
                        minutes=fig("Minutes", 5, "min"),
                        burned=fig("Burned", rate * 5, "mL"),
                        rate=fig("Rate", rate, "mL/min"),
                    ),
                ),
                bands=(),
                burn_rate=Trace(
                    f"Burn rate, {side}",
                    "mL/min",
                    t,
                    rate + 30 * np.sin(t / 20),
                    rate - 20 + 0 * t,
                    rate + 60 + 0 * t,
                    how="derivative of fuel remaining",
                ),
                remaining=None,
            )
        )
    fuel = make(
        FuelResult,
        tanks=tuple(tanks),
        burned=fig("Burned", 3050, "mL", method=Method.INTEGRATED, digits=0),
        mass=lost("Burned mass", "kg"),
        rate=fig("Burn rate while airborne", 508.0, "mL/min", plus=9, digits=0),
        imbalance=fig("Imbalance", 4.2 + 0.2 * n, "%", plus=1.1),
        endurance=lost("First tank dry", "min"),
        events=(replace(NOTE, summary=NOTE.summary + note),),
        missing=(Missing("fuel", "fuel density", "mass burned", "note the density in the aircraft's file"),),
    )
    engines = tuple(
        make(
            EngineResult,
            name=side,
            starts=(
                make(
                    Start,
                    start_s=20.0,
                    succeeded=True,
                    duration_s=fig("Time to idle", 28, "s"),
                    peak_egt_c=fig("Peak at start", 690, "°C", digits=0),
                    hot=False,
                ),
            ),
            run_min=fig(f"Running, {side}", 6.4, "min"),
            idle_rpm=fig("Idle speed", 33_000, "rpm", digits=0),
            idle_spread_rpm=fig("Idle spread", 220, "rpm", digits=0),
            max_rpm=fig("Top speed", 105_500, "rpm", digits=0),
            max_rpm_spread_rpm=fig("Top spread", 400, "rpm", digits=0),
            max_egt_c=fig("Hottest", 655, "°C", digits=0),
            cool_down_s=fig("Cool-down", 55, "s"),
            mah_per_start=lost("Charge per start", "mAh"),
            events=(),
        )
        for side in ("left", "right")
    )
    packs = tuple(
        make(
            PackResult,
            name=role,
            pack=pack.name,
            use=Use("receiver", True),
            charge=make(
                PackCharge,
                used_mah=fig(f"Used, {role}", 520 + 40 * n, "mAh", method=Method.INTEGRATED, digits=0),
                put_back_mah=lost("Put back", "mAh"),
                used_wh=fig("Energy", 3.9, "Wh"),
                airborne_mah_per_min=fig("Use while airborne", 88, "mAh/min", plus=4),
                phases=(
                    make(
                        PhaseCharge,
                        name="flight",
                        used_mah=fig("Used", 430, "mAh"),
                        rate_mah_per_min=fig("Rate", 88, "mAh/min"),
                    ),
                ),
            ),
            voltage=make(
                PackVoltage,
                lowest_v=fig("Lowest voltage", low, "V", digits=2),
                lowest_cell_v=lost("Lowest cell", "V"),
                cell_spread_v=fig("Cell spread", 0.04, "V", digits=3),
                rest_before_v=fig("At rest before", 8.2, "V", digits=2),
                rest_after_v=fig("At rest after", 7.9, "V", digits=2),
                deepest_sag_v=fig("Deepest sag", 8.05 - low, "V", digits=2),
                load_free=Trace(f"Voltage without load, {role}", "V", t, 8.1 - 0.001 * t, how="running quantile"),
            ),
            resistance=make(PackResistance, value_mohm=fig("Internal resistance", 55.0, "mΩ", plus=6)),
            events=(SAG,) if role == "rx2" else (),
        )
        for role, pack, low in (("rx1", PACKS["rx1"], 7.72), ("rx2", PACKS["rx2"], 6.35))
    )
    antennas = tuple(
        make(
            AntennaResult,
            name=f"rx1.antenna{k}",
            receiver="rx1",
            number=k,
            unit="dBm",
            median_signal=fig("Median signal", -64, "dBm"),
            lowest_signal=fig("Lowest signal", -88, "dBm"),
            lowest_margin_db=lost("Lowest margin", "dB"),
            lost_packets=fig("Lost packets", 12, "", digits=0),
            lost_per_min=fig("Lost packets a minute", 2.1, "1/min"),
            fades=fig("Fades", 0 if k == 1 else 1, "", digits=0),
            fade_seconds=fig("Seconds faded", 0 if k == 1 else 3.5, "s"),
            worst_direction="" if k == 1 else "from behind, level",
            residual=Trace(f"Signal after distance, antenna {k}", "dB", t, 4 * np.sin(t / 9 + k)),
            bins=None,
            events=() if k == 1 else (FADE,),
        )
        for k in (1, 2)
    )
    link = make(
        LinkResult,
        receivers=(
            make(
                ReceiverResult,
                name="rx1",
                lost_frames=fig("Lost frames", 3, "", digits=0),
                lost_frames_per_min=fig("Lost frames a minute", 0.6, "1/min"),
                failsafe_s=fig("Failsafe", 0.0, "s"),
                fades_together=fig("Fades together", 0, "", digits=0),
                fades_saved=fig("Fades saved", 1, "", digits=0),
                antennas=antennas,
                events=(),
            ),
        ),
        max_range_m=fig("Farthest", 412, "m", digits=0),
        range_m=Trace("Distance", "m", t, 200 + 150 * np.sin(t / 30)),
        directions_from="position and track",
        downlink_gaps=lost("Downlink gaps", ""),
        events=(),
        missing=(),
    )
    return make(
        FlightResult,
        flight_id=flight_id,
        duration_s=duration_s,
        phases=phases,
        fuel=fuel,
        turbine=make(TurbineResult, engines=engines, missing=()),
        packs=make(PacksResult, packs=packs, buses=(), missing=()),
        link=link,
        suspects=SUSPECTS,
        channels=("pack.rx1.voltage_v", "pack.rx2.voltage_v"),
        extras=("extra.house_light",),
    )


def flight(
    n: int,
    *,
    title: str = "",
    flight_id: str = "",
    aircraft: Aircraft = TERN,
    remarks: str = "",
    shared: FlightResult | None = None,
    loader: object = None,
    notices: tuple[str, ...] = ("Row 812 was cut short and left out.",),
) -> FlightPage:
    flight_id = flight_id or f"tern-{n:03d}"
    start = datetime(2031, 5, 1, 10, tzinfo=UTC) + timedelta(days=2 * n)
    context = FlightContext(
        flight_id,
        aircraft,
        PACKS,
        LAYOUT_A if n < 9 else LAYOUT_B,
        {"left": FuelNote(2500.0, 1650.0)},
        {},
        18.0,
        54.0005,
        9.004,
        remarks=remarks,
    )
    done = replace(shared, flight_id=flight_id) if shared else result(flight_id, n=n)
    return FlightPage(
        FlightRecord(flight_id, n, start, context, done),
        title or f"{aircraft.name} flight {n}",
        f"tern_{n}.csv",
        notices,
        f"mark-{flight_id}",
        loader or telemetry,
        LABEL,
    )  # type: ignore[arg-type]


def odds_table(tank: str, ml_per_min: float) -> TimerTable:
    """Odds that fall along a logistic curve about the time at which the tank reaches its reserve of 500 mL."""
    minutes, volumes = np.linspace(0, 12, 61), np.linspace(500, 2600, 25)
    even = (volumes[:, None] - 500.0) / ml_per_min
    odds = 1 / (1 + np.exp(4 * (minutes[None, :] - even)))
    return TimerTable(tank, minutes, volumes, odds * (volumes[:, None] > 500), 2500.0, 500.0)


def antenna_map(name: str, layout: str, deep: float, sentence: str) -> AntennaMap:
    azimuth = np.linspace(-180, 180, 25)
    sine = np.linspace(-1, 1, 9)
    mid = (azimuth[:-1] + azimuth[1:]) / 2
    gain = 1.0 - deep * np.exp(-(((np.abs(mid) - 180) / 40) ** 2))[:, None] * np.ones(8)[None, :]
    gain[3, 0] = np.nan
    return make(
        AntennaMap,
        antenna=name,
        layout=layout,
        unit="dB",
        edges_azimuth_deg=azimuth,
        edges_sin_elevation=sine,
        gain_db=gain,
        low_db=gain - 1,
        high_db=gain + 1,
        count=np.ones_like(gain) * 40,
        nulls=("azimuth 165° to −165°, level",) if deep > 10 else (),
        sentence=sentence,
    )


def season(pages: tuple[FlightPage, ...], aircraft: Aircraft = TERN) -> SeasonResult:
    old = pages[::-1]
    ids = tuple(p.record.flight_id for p in old)
    n = len(ids)
    rates = [tuple(p.record.result.fuel.tanks[k].rate for p in old) for k in (0, 1)]
    fuel = make(
        FuelHistory,
        tanks=tuple(
            make(
                TankHistory,
                name=side,
                flight_ids=ids,
                rates=rates[k],
                burn=make(
                    BurnHistory,
                    trend=fig("Trend", 3.0 * (1 - k), "mL/min a flight", plus=0.8),
                    level=Level.FINE,
                    verdict=f"burns {'more every flight' if k == 0 else 'the same as ever'}",
                ),
            )
            for k, side in enumerate(("left", "right"))
        ),
        imbalance=make(
            ImbalanceHistory,
            flight_ids=ids,
            values=tuple(p.record.result.fuel.imbalance for p in old),
            trend=fig("Imbalance trend", 0.2, "% a flight", plus=0.1),
            since=ids[4] if len(ids) > 4 else "",
            level=Level.WATCH,
            verdict="The left engine burns 12 % more than the right since flight 5.",
        ),
        timer=make(
            TimerCurve,
            minutes=np.linspace(4, 9, 60),
            odds=1 / (1 + np.exp(3 * (np.linspace(4, 9, 60) - 7))),
            advised=fig("Advised timer", 6.1, "min", plus=0.3),
            flights=n,
            verdict="A timer of 6.1 minutes kept the reserve in 19 of 20 flights.",
        ),
        timer_missing="",
        tables=tuple(odds_table(side, use) for side, use in (("left", 300.0), ("right", 280.0))),
    )
    engines = tuple(
        make(
            EngineHistory,
            name=side,
            hours_since_service=fig("Hours since service", 3.2, "h"),
            hours_to_service=fig("Hours to service", 21.8, "h"),
            starts_since_service=fig("Starts", 18, "", digits=0),
            flight_ids=ids,
            start_durations=tuple(fig("Time to idle", 28 + i, "s") for i in range(n)),
            start_peaks=tuple(fig("Peak", 690 + i, "°C", digits=0) for i in range(n)),
            verdict="3.2 hours since its last service.",
        )
        for side in ("left", "right")
    )
    layouts = make(
        LayoutsResult,
        layouts=(
            make(
                LayoutMaps,
                layout="A",
                flight_ids=ids[:8],
                measured=(antenna_map("rx1.antenna2", "A", 22.0, "A deep null straight behind."),),
                planned=(antenna_map("rx1.antenna2", "A", 18.0, "Planned: weak behind."),),
                planned_best=antenna_map("best", "A", 5.0, "Best of both."),
                coverage_sentence="Most sides were seen.",
            ),
            make(
                LayoutMaps,
                layout="B",
                flight_ids=ids[8:],
                measured=(antenna_map("rx1.antenna2", "B", 3.0, "No weak side."),),
                planned=(),
                planned_best=None,
                coverage_sentence="Half of the sides were seen.",
            ),
        ),
        comparisons=(
            make(
                LayoutComparison,
                antenna="rx1.antenna2",
                before="A",
                after="B",
                difference_db=fig("Gain of B over A", 11.0, "dB", plus=2.5),
                difference_lost_per_min=lost("Lost frames", "1/min"),
                sectors=(fig("Tail", 17.0, "dB", plus=3),),
                verdict="Moving it helped: 11 dB better, from behind most of all.",
            ),
        ),
    )
    packs = tuple(
        make(
            PackHistory,
            pack=pack,
            flight_ids=ids,
            life=make(PackLife, cycles=fig("Cycles", 90, "", digits=0)),
            capacity=make(
                CapacityHistory,
                figures=tuple(fig("Capacity", cap - 10 * i, "mAh", plus=90, digits=0) for i in range(n)),
                now_percent=fig("Capacity now", cap / 50, "%", plus=3, digits=0),
                trend=fig("Capacity trend", -10, "mAh a flight", plus=3),
            ),
            resistance=make(
                ResistanceHistory,
                figures=tuple(fig("Resistance", res + i, "mΩ", plus=4) for i in range(n)),
                over_new=fig("Resistance against new", ratio, "", plus=0.2, digits=2),
                trend=fig("Resistance trend", 1, "mΩ a flight", plus=0.4),
            ),
            spread=make(
                SpreadHistory,
                figures=tuple(fig("Spread", 0.02 + 0.005 * i, "V", digits=3) for i in range(n)),
                trend=fig("Spread trend", 0.005, "V a flight", digits=4),
            ),
            sags_v=tuple(fig("Sag", 0.5 + 0.05 * i, "V", digits=2) for i in range(n)),
            flights_to_retirement=lost("Flights to retirement", ""),
            level=level,
            reasons=reasons,
            sentence=sentence,
        )
        for pack, cap, res, ratio, level, reasons, sentence in (
            (
                PACKS["rx2"],
                3700,
                62.0,
                2.1,
                Level.ACT,
                ("Resistance is 2.1 times new.",),
                "Retire R2: resistance is 2.1 times new and one cell is weak.",
            ),
            (PACKS["rx1"], 4850, 32.0, 1.1, Level.FINE, (), "R1 is well inside its rule."),
        )
    )
    attention = (
        Attention(
            Level.ACT,
            "pack R2",
            "retire it: twice its resistance when new.",
            fig("Resistance against new", 2.1, "", plus=0.2, digits=2),
            ids[-1],
            200.0,
            "packs/R2",
        ),
        Attention(
            Level.WATCH,
            "Tern",
            "the left engine burns more than the right.",
            fig("Imbalance", 12.0, "%", plus=1.5),
            page="aircraft/Tern",
        ),
        Attention(Level.NOTE, "link.rx1.antenna2", "faded once.", None, ids[0], 243.0),
    )
    return make(
        SeasonResult,
        aircraft=(
            make(AircraftSeason, aircraft=aircraft, flight_ids=ids, fuel=fuel, engines=engines, layouts=layouts),
        ),
        packs=packs,
        attention=attention,
    )


def site(count: int = 10) -> Site:
    pages = tuple(flight(n, remarks="calm evening" if n == 3 else "") for n in range(count, 0, -1))
    said = OverFlights(season(pages), {"Tern": monitored.programme()})
    return Site(
        "Fenholt logbook", pages, said, "2031-08-01 12:00", LABEL,
        year=lambda name, n: YearPage(None, lambda: monitored.year(name, n)),
        fleet=FleetPage("one", lambda: compared({f"P{n}": 50.0 + n for n in range(9)} | {"R2": 400.0})),
    )  # fmt: skip

"""Packs of one flight against traces made from a known circuit: charge, resistance, sag, redundancy, and bad input."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, FlightContext, Pack, PackNote
from analyser.core.codes import CoreCode
from analyser.core.events import Event, Level
from analyser.core.figures import Figure, figures_of
from analyser.core.phases import find_phases
from analyser.core.quality import screen
from analyser.core.telemetry import Telemetry
from analyser.packs.analysis import PackResult, analyse_packs
from analyser.packs.state_of_charge import by_rest_voltage, charge_left
from reports.words.catalogue import text
from tests.analyser.pack_flights import GEAR_S, Truth, analysed, flown, true_mah

PACK = Pack("R1", "lipo", 2, 3000.0, brown_out_v=6.0, new_resistance_mohm=42.0)
ONE_SECOND = 1 + 0.3 * (1 - np.exp(-1 / 15))


def of_kind(pack: PackResult, kind: str) -> list[Event]:
    return [e for e in pack.events if e.kind == kind]


def test_charge_is_the_integral_of_the_known_current() -> None:
    columns = flown()
    pack = analysed(columns, packs={"rx1": PACK}).packs[0]
    truth = true_mah(columns)
    assert pack.charge.used_mah.value == pytest.approx(truth, rel=0.01)
    assert pack.charge.used_wh.value is not None
    assert 7.0 < 1000 * pack.charge.used_wh.value / truth < 8.4
    assert not of_kind(pack, "pack_data")


@pytest.mark.parametrize("hz", [1.0, 2.0, 10.0, 50.0])
def test_resistance_is_found_at_any_rate_and_its_interval_holds_it(hz: float) -> None:
    pack = analysed(flown(hz=hz), packs={"rx1": PACK}).packs[0]
    assert pack.resistance.as_read_mohm.value == pytest.approx(40.0 * ONE_SECOND, rel=0.10)
    figure = pack.resistance.value_mohm
    assert figure.value == pytest.approx(40.0 * ONE_SECOND, rel=0.08)
    assert figure.low is not None
    assert figure.high is not None
    assert figure.low <= 40.0 * ONE_SECOND <= figure.high


@pytest.mark.parametrize("hz", [1.0, 5.0, 10.0, 50.0])
def test_sag_and_brown_out_name_the_gear_at_any_rate(hz: float) -> None:
    fitted = replace(PACK, brown_out_v=6.9)
    pack = analysed(flown(Truth(ohm=0.060), hz=hz), packs={"rx1": fitted}).packs[0]
    for kind in ("sag", "brown_out"):
        (gear,) = [e for e in of_kind(pack, kind) if abs(e.start_s - GEAR_S) < 1.5]
        assert {c.code for c in gear.causes} & {CoreCode.GEAR_UP, CoreCode.GEAR_DOWN}, kind
        assert gear.duration_s == pytest.approx(2.5, abs=1.5 / hz + 0.2), kind
        assert gear.depth is not None
        assert gear.depth.value is not None
    assert of_kind(pack, "brown_out")[0].level == Level.ACT


@pytest.mark.parametrize("hz", [1.0, 5.0, 50.0])
def test_a_load_that_stays_above_nine_tenths_is_no_sag(hz: float) -> None:
    # 0.02 Ω and at most 25 A take 0.6 V of 8.2.
    pack = analysed(flown(Truth(ohm=0.02), hz=hz, gear_a=6.0), packs={"rx1": PACK}).packs[0]
    assert not of_kind(pack, "sag")
    assert not of_kind(pack, "brown_out")


def test_reversed_current_is_turned_round_and_said() -> None:
    columns = flown()
    right = analysed(columns, packs={"rx1": PACK}).packs[0].charge.used_mah
    columns["pack.rx1.current_a"] = -columns["pack.rx1.current_a"]
    pack = analysed(columns, packs={"rx1": PACK}).packs[0]
    assert pack.charge.used_mah.value == pytest.approx(right.value)
    assert any("reversed" in text(d) for d in pack.charge.used_mah.doubts)
    assert any("reversed" in text(e.summary) for e in of_kind(pack, "pack_data"))


def test_offset_is_sized_when_the_charger_disagrees() -> None:
    columns = flown()
    truth = true_mah(columns)
    columns["pack.rx1.current_a"] = columns["pack.rx1.current_a"] + 2.5
    pack = analysed(columns, packs={"rx1": PACK}, pack_notes={"rx1": PackNote(charged_mah=truth)}).packs[0]
    (event,) = of_kind(pack, "pack_data")
    assert "offset of +2.5" in text(event.summary)
    assert event.level == Level.WATCH
    assert event.summary in pack.charge.used_mah.doubts
    assert (pack.charge.disagreement_percent.value or 0.0) > 15.0


def test_a_wrong_note_is_not_called_an_offset() -> None:
    columns = flown()
    note = PackNote(charged_mah=0.5 * true_mah(columns))
    pack = analysed(columns, packs={"rx1": PACK}, pack_notes={"rx1": note}).packs[0]
    (event,) = of_kind(pack, "pack_data")
    assert "scale error or a wrong note" in text(event.summary)


def test_a_negative_reading_is_an_offset_without_any_second_route() -> None:
    columns = flown(rest_s=40.0)
    columns["pack.rx1.current_a"] = columns["pack.rx1.current_a"] - 1.2
    pack = analysed(columns, packs={"rx1": PACK}).packs[0]
    (event,) = of_kind(pack, "pack_data")
    assert "no pack takes charge in flight" in text(event.summary)
    assert "at least 0.9 A" in text(event.summary)


def test_more_put_back_than_used_is_no_fault_when_the_pack_did_not_start_full() -> None:
    columns = flown(Truth(charge_percent=75.0))
    note = PackNote(charged_mah=true_mah(columns) + 750.0)
    pack = analysed(columns, packs={"rx1": PACK}, pack_notes={"rx1": note}).packs[0]
    assert not of_kind(pack, "pack_data")
    assert "did not start full" in text(pack.charge.disagreement_percent.missing)


@pytest.mark.parametrize(("noted_more", "said"), [(75.0, False), (1_500.0, True)])
def test_what_a_pack_lacked_before_the_flight_is_put_back_and_no_fault(noted_more: float, said: bool) -> None:
    """A pack rests at 97 % after a night: the charger puts a few percent of the label back besides."""
    columns = flown(Truth(charge_percent=97.0))
    short = {name: values[: values.size // 4] for name, values in columns.items()}
    note = PackNote(charged_mah=true_mah(short) + noted_more)
    pack = analysed(short, packs={"rx1": PACK}, pack_notes={"rx1": note}).packs[0]
    assert bool(of_kind(pack, "pack_data")) is said


def test_counter_against_integral() -> None:
    columns = flown()
    columns["pack.rx1.used_mah"] = np.round(np.cumsum(columns["pack.rx1.current_a"]) / 36.0, 1)
    pack = analysed(columns, packs={"rx1": PACK}).packs[0]
    assert pack.charge.counted_mah.value == pytest.approx(true_mah(columns), rel=0.01)
    assert abs(pack.charge.disagreement_percent.value or 99.0) < 1.0
    assert not of_kind(pack, "pack_data")


def test_wrong_cell_count_is_asked() -> None:
    pack = analysed(flown(), packs={"rx1": Pack("R1", "lipo", 3, 3000.0)}).packs[0]
    assert any("cell count" in text(d) for d in pack.voltage.rest_before_v.doubts)
    assert any("cell count" in text(e.summary) for e in of_kind(pack, "pack_data"))


def test_counter_reset_in_flight_keeps_the_charge_and_is_named() -> None:
    columns = flown()
    count = np.cumsum(columns.pop("pack.rx1.current_a")) / 36.0
    reset = columns["time_s"] >= 250.0
    whole = float(count[-1] - count[0])
    columns["pack.rx1.used_mah"] = np.round(np.where(reset, count - count[reset][0], count), 1)
    pack = analysed(columns, packs={"rx1": PACK}).packs[0]
    assert pack.charge.used_mah.value == pytest.approx(whole, rel=0.01)
    assert pack.charge.used_mah.doubts


def test_without_current_the_put_back_counts() -> None:
    columns = flown()
    del columns["pack.rx1.current_a"]
    pack = analysed(columns, packs={"rx1": PACK}, pack_notes={"rx1": PackNote(charged_mah=900.0)}).packs[0]
    assert pack.charge.used_mah.value == pytest.approx(900.0 * 0.99)  # a charger puts in a hundredth on top
    assert pack.resistance.as_read_mohm.value is None
    assert pack.resistance.as_read_mohm.missing


@pytest.mark.parametrize("make", ["Ai2020", "Ecker2015", "Ramadass2004"])
@pytest.mark.parametrize("kept", [1.0, 0.7])
def test_capacity_interval_holds_the_truth_whatever_the_make(make: str, kept: float) -> None:
    truth = Truth(mah=2000.0 * kept, make=make)
    columns = flown(truth, hz=5.0)
    note = PackNote(charged_mah=true_mah(columns))
    pack = analysed(columns, packs={"rx1": replace(PACK, rated_mah=2000.0)}, pack_notes={"rx1": note}).packs[0]
    for figure in (pack.capacity.by_discharge_mah, pack.capacity.by_charge_mah):
        assert figure.low is not None, figure
        assert figure.high is not None
        assert figure.low <= truth.mah <= figure.high
        assert figure.value == pytest.approx(truth.mah, rel=0.15)


def test_a_shallow_flight_states_no_capacity() -> None:
    pack = analysed(flown(Truth(mah=9000.0)), packs={"rx1": replace(PACK, rated_mah=9000.0)}).packs[0]
    assert pack.capacity.by_discharge_mah.value is None
    assert "15 %" in text(pack.capacity.by_discharge_mah.missing)


@pytest.mark.parametrize(
    ("chemistry", "make", "cells"), [("lifepo4", "Prada2013", 2), ("nimh", "", 5), ("li_ion", "Chen2020", 2)]
)
def test_other_chemistries(chemistry: str, make: str, cells: int) -> None:
    truth = Truth(chemistry=chemistry, make=make, cells=cells)
    columns = flown(truth, hz=5.0)
    note = PackNote(charged_mah=true_mah(columns))
    fitted = Pack("X", chemistry, cells, 3000.0)  # type: ignore[arg-type]
    pack = analysed(columns, packs={"rx1": fitted}, pack_notes={"rx1": note}).packs[0]
    assert pack.resistance.as_read_mohm.value == pytest.approx(40.0 * ONE_SECOND, rel=0.08)
    after = pack.state.after_percent
    left = 100.0 - 100.0 * true_mah(columns) / 3000.0
    assert after.low is not None
    assert after.high is not None
    assert after.low <= left <= after.high
    assert after.high - after.low < 60.0
    assert not of_kind(pack, "pack_data")
    if chemistry == "nimh":
        assert pack.capacity.by_charge_mah.value is None


def test_a_flat_curve_states_no_capacity() -> None:
    truth = Truth(chemistry="lifepo4", make="Prada2013", charge_percent=85.0)
    pack = analysed(flown(truth, hz=5.0), packs={"rx1": Pack("F", "lifepo4", 2, 3000.0)}).packs[0]
    assert pack.capacity.by_discharge_mah.value is None


def two_packs(second: Truth, *, lead_ohm: float = 0.0, drop_v: float = 0.0) -> dict[str, np.ndarray]:
    columns = flown()
    columns |= {k: v for k, v in flown(second, role="rx2").items() if k.startswith("pack.rx2")}
    if lead_ohm or drop_v:
        noise = np.random.default_rng(0).normal(0.0, 0.005, columns["time_s"].size)
        given = columns["pack.rx1.voltage_v"] - drop_v - lead_ohm * columns["pack.rx1.current_a"]
        columns["bus.main.voltage_v"] = np.round(given + noise, 3)
    return columns


def test_two_packs_share_a_bus() -> None:
    fitted = {"rx1": PACK, "rx2": replace(PACK, name="R2")}
    (bus,) = analysed(two_packs(Truth(ohm=0.3)), aircraft=Aircraft("invented", brown_out_v=5.8), packs=fitted).buses
    assert sum(f.value or 0.0 for f in bus.share_percent.values()) == pytest.approx(100.0)
    assert bus.carries_alone == {"rx1": True, "rx2": False}
    assert "rx2" in text(bus.summary)
    assert abs(bus.alone["rx2"].now_at_s - GEAR_S) < 4.0


def test_without_a_level_nobody_knows_who_carries() -> None:
    (bus,) = analysed(two_packs(Truth(ohm=0.3))).buses
    assert bus.carries_alone == {"rx1": None, "rx2": None}
    assert "No brown-out level" in text(bus.summary)


def test_redundancy_is_judged_at_the_lowest_voltage_not_at_the_peak_load() -> None:
    # The second pack runs empty: its lowest voltage alone comes at the end, long after the gear's peak.
    columns = flown()
    empty = Truth(mah=1.02 * true_mah(columns))
    columns |= {k: v for k, v in flown(empty, role="rx2").items() if k.startswith("pack.rx2")}
    (bus,) = analysed(columns, aircraft=Aircraft("invented", brown_out_v=6.0)).buses
    assert bus.alone["rx2"].now_at_s > 400.0
    assert abs(bus.alone["rx1"].now_at_s - GEAR_S) < 4.0


def test_diode_and_lead_are_told_apart_on_the_shared_bus() -> None:
    result = analysed(two_packs(Truth(), lead_ohm=0.020, drop_v=0.35))
    (bus,) = result.buses
    assert result.packs[0].resistance.leads_mohm == bus.path_resistance_mohm["rx1"]
    for figure, truth in ((bus.path_drop_v["rx1"], 0.35), (bus.path_resistance_mohm["rx1"], 20.0)):
        assert figure.low is not None
        assert figure.high is not None
        assert figure.value == pytest.approx(truth, rel=0.05)


def test_the_lead_of_a_lone_receiver_pack() -> None:
    columns = flown()
    columns["bus.main.voltage_v"] = np.round(columns["pack.rx1.voltage_v"] - 0.025 * columns["pack.rx1.current_a"], 2)
    (pack,) = analysed(columns).packs
    assert pack.resistance.leads_mohm.value == pytest.approx(25.0, rel=0.05)
    columns |= {"pack.rx2.voltage_v": columns["pack.rx1.voltage_v"]}
    assert analysed(columns).packs[0].resistance.leads_mohm.value is None


def test_the_bus_takes_its_level_from_the_packs_where_the_aircraft_states_none() -> None:
    low = replace(PACK, brown_out_v=5.8)
    (bus,) = analysed(two_packs(Truth(ohm=0.3)), packs={"rx1": low, "rx2": replace(low, name="R2")}).buses
    assert bus.carries_alone == {"rx1": True, "rx2": False}


def test_a_regulated_bus_has_a_drop_and_no_resistance() -> None:
    columns = two_packs(Truth())
    columns["bus.main.voltage_v"] = np.full(columns["time_s"].size, 6.6)
    columns["bus.main.voltage_v"][::7] = 6.61
    (bus,) = analysed(columns).buses
    assert "regulator" in text(bus.path_drop_v["rx1"].how)
    assert bus.path_resistance_mohm["rx1"].value is None


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.tuples(
            st.floats(0.01, 5.0),
            st.one_of(st.none(), st.floats(0.0, 75.0)),
            st.one_of(st.none(), st.floats(-300.0, 300.0)),
        ),
        min_size=1,
        max_size=60,
    ),
    st.sampled_from(["lipo", "li_ion", "lifepo4", "nimh"]),
)
def test_any_trace_gives_finite_figures_or_a_stated_cannot(
    rows: list[tuple[float, float | None, float | None]], chemistry: str
) -> None:
    t = np.cumsum([r[0] for r in rows])
    volts = pa.array([r[1] for r in rows], pa.float64())
    amps = pa.array([r[2] for r in rows], pa.float64())
    table = pa.table(
        {"time_s": t - t[0]}
        | {f"pack.rx{n}.{q}": x for n in (1, 2) for q, x in (("voltage_v", volts), ("current_a", amps))}
        | {"bus.main.voltage_v": volts}
    )
    telemetry = screen(Telemetry(table))
    fitted = Pack("R1", chemistry, 2, 3000.0, brown_out_v=6.0)  # type: ignore[arg-type]
    context = FlightContext(
        packs={"rx1": fitted}, air_temperature_c=15.0, pack_notes={"rx1": PackNote(charged_mah=500.0)}
    )
    result = analyse_packs(telemetry, find_phases(telemetry), context)
    for path, figure in figures_of(result):
        if figure.value is None:
            assert figure.missing, path
        else:
            assert np.isfinite([figure.value, figure.low or 0.0, figure.high or 0.0]).all(), path
            assert figure.low is None or figure.low <= figure.value + 1e-9, path
            assert figure.high is None or figure.high >= figure.value - 1e-9, path


def test_a_count_that_runs_backwards_is_no_charge() -> None:
    columns = flown()
    # Offset so far below nought that the whole flight sums up to less than nothing.
    columns["pack.rx1.current_a"] = columns["pack.rx1.current_a"] - 20.0
    pack = analysed(columns, packs={"rx1": PACK}).packs[0]
    for figure in (pack.charge.used_mah, pack.charge.integrated_mah):
        assert figure.value is None or figure.value >= 0.0
    assert pack.charge.used_mah.value is not None or pack.charge.used_mah.missing


def test_more_than_any_pack_holds_is_doubted() -> None:
    columns = flown(Truth(mah=1500.0), hz=5.0)
    pack = analysed(columns, packs={"rx1": replace(PACK, rated_mah=1000.0)}).packs[0]
    figure = pack.capacity.by_discharge_mah
    assert figure.value is not None
    assert figure.value > 1120.0
    assert any("more than any pack holds" in text(d) for d in figure.doubts)


def test_nothing_between_pack_and_bus_is_below_nought() -> None:
    columns = two_packs(Truth())
    # A bus that reads a little higher than the pack, as two unlike sensors do.
    columns["bus.main.voltage_v"] = np.round(columns["pack.rx1.voltage_v"] * 1.002, 3)
    (bus,) = analysed(columns).buses
    for figure in (bus.path_drop_v["rx1"], bus.path_resistance_mohm["rx1"]):
        assert figure.value is None or (figure.value >= 0.0 and (figure.low or 0.0) >= 0.0)


def test_no_phase_shows_charge_below_nought() -> None:
    """Found by fuzzing the whole path: a current that steps to −40 A left −5,700 mAh in a phase, plain."""
    columns = flown()
    columns["pack.rx1.current_a"] = np.where(columns["time_s"] > 100.0, -40.0, columns["pack.rx1.current_a"])
    charge = analysed(columns, packs={"rx1": PACK}).packs[0].charge
    figures = [charge.used_wh, charge.airborne_mah_per_min, *(f for p in charge.phases for f in (p.used_mah,))]
    assert all(f.value is None or (f.high or f.value) >= 0.0 for f in figures)
    assert any(f.value is None and "no pack takes charge" in text(f.missing) for f in figures)


def _left(rest_v: float, used_mah: float, half_mah: float = 5.0) -> Figure:
    pack = Pack("R1", "lipo", 2, 2000.0, "rx")
    before = Figure.within("", 98.0, 2.0, "%")
    used = Figure.within("", used_mah, half_mah, "mAh")
    return charge_left("", pack, before, Figure.within("", rest_v, 0.02, "V"), used)


def test_charge_left_weighs_voltage_and_charge_used_by_their_errors() -> None:
    """A shallow flight is told by its charge, a deep one by its voltage; together no wider than either.

    Shares by hand: a tenth of the label used is 9.5 % of a pack that kept 105 % of it, 14.3 % of one that kept 70 %.
    """
    shallow, deep = _left(8.14, 200.0), _left(7.6, 1200.0)
    assert shallow.value == pytest.approx(98.0 - (9.52 + 14.29) / 2.0, abs=2.0)
    assert shallow.half_width < np.hypot((14.29 - 9.52) / 2.0, 2.0) + 0.5
    assert deep.half_width < 0.5 * 1200.0 / 2000.0 * 100.0 * (1 / 0.7 - 1 / 1.05)
    assert abs((deep.value or 0.0) - 45.0) < 15.0


def test_charge_left_grows_unsure_where_voltage_and_charge_disagree() -> None:
    """A sensor that counts a tenth of the charge: the interval reaches to what both say."""
    told = _left(7.7, 90.0)
    by_voltage = by_rest_voltage("", Pack("R1", "lipo", 2, 2000.0, "rx"), Figure.within("", 7.7, 0.02, "V"), 0.045)
    assert by_voltage.value is not None
    assert told.low is not None
    assert told.high is not None
    assert told.low < by_voltage.value < told.high
    assert told.low < 98.0 - 90.0 / 20.0 < told.high

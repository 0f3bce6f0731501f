"""What a sensor that has nothing to say writes: no figure takes it for a measurement, whichever quantity it is.

The values are those that recorders and buses leave where a sensor fails: the ends of 8, 16 and 32 bit numbers, all
nines, absolute zero, a large float (from memory; common practice, no one source), and nought and minus one.
"""

from functools import cache
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from msgspec.structs import replace

from analyser.core.aircraft import FlightContext, Pack
from analyser.core.channels import VOCABULARY, parse
from analyser.core.figures import figures_of
from analyser.core.telemetry import Telemetry
from analyser.flight import analyse_flight
from analyser.sense import believable
from importers.plan import plan
from importers.read import read
from importers.table.source import Source
from reports.tables import marked
from spooldown import register
from tests.fuzz.whole_path import impossible

SAMPLES = Path(__file__).parents[2] / "sample_logs"
VALUES = (65535.0, -32768.0, 2.0**31 - 1, 9999.0, 1e30, -273.15, -4456.0, 255.0, 124.0, -1.0, 0.0)


@cache
def flown() -> tuple[pa.Table, FlightContext]:
    """A flight of the invented scenario with nearly every quantity, one row of three, and what is known of it."""
    (table,) = (pa.Table.from_batches(d.batches) for d in read(plan(Source(SAMPLES / "tern" / "tern-2026-07-04.csv"))))
    file = SAMPLES / "aircraft" / "tern.toml"
    aircraft = register.parse(file.read_bytes(), str(file)).aircraft
    place = [float(np.nanmedian(table[f"position.{name}_deg"].to_numpy())) for name in ("latitude", "longitude")]
    return table.take(np.arange(0, table.num_rows, 3)), FlightContext(
        aircraft=aircraft, pilot_latitude_deg=place[0], pilot_longitude_deg=place[1]
    )


QUANTITIES = [(c.subject, c.quantity) for c in VOCABULARY if c.unit != "bool"]


def name_of(subject: str, quantity: str) -> str:
    """A channel of this quantity that the flight logs, or else one that it gets."""
    names = flown()[0].column_names
    known = [n for n in names if (p := parse(n)) and (p.channel.subject, p.channel.quantity) == (subject, quantity)]
    alike = [p.instance for n in names if (p := parse(n)) and p.channel.subject == subject]
    part = [(alike or ["main"])[0]] if next(c for c in VOCABULARY if c.subject == subject).has_instance else []
    return known[0] if known else ".".join([subject, *part, quantity.replace("<n>", "1")])


def left(name: str, value: float, share: slice) -> Telemetry:
    """The flight with one channel's samples, or a share of them, replaced."""
    table, _ = flown()
    there = name in table.column_names
    values = table[name].to_numpy(zero_copy_only=False).astype(float).copy() if there else np.zeros(table.num_rows)
    values[np.flatnonzero(np.isfinite(values))[share]] = value
    column = pa.array(values, mask=~np.isfinite(values))
    at = table.schema.get_field_index(name)
    return Telemetry(table.set_column(at, name, column) if there else table.append_column(name, column))


@pytest.mark.parametrize("number", range(len(QUANTITIES)), ids=[".".join(q) for q in QUANTITIES])
def test_no_figure_takes_it_for_a_measurement(number):
    name, (_, context) = name_of(*QUANTITIES[number]), flown()
    assert parse(name) is not None
    capacity = {tank.name: tank.capacity_ml for tank in context.aircraft.tanks}
    result = analyse_flight(left(name, VALUES[number % len(VALUES)], slice(None)), context)
    assert list(impossible(result, capacity)) == []


@pytest.mark.parametrize("name", ["attitude.roll_deg", "attitude.pitch_deg", "attitude.heading_deg"])
def test_an_angle_that_is_never_logged_is_derived(name):
    result = analyse_flight(left(name, 65535.0, slice(None)), flown()[1])
    assert result.link.max_range_m.value is not None


@pytest.mark.parametrize(("name", "value"), [("position.latitude_deg", 0.0), ("position.longitude_deg", 124.0)])
def test_a_place_far_from_the_pilot_is_doubted(name, value):
    figure = analyse_flight(left(name, value, slice(None)), flown()[1]).link.max_range_m
    assert any("away from the pilot's: one of the two is wrong" in str(d) for d in figure.doubts)
    sound = analyse_flight(Telemetry(flown()[0]), flown()[1])
    assert not sound.link.max_range_m.doubts
    assert any(figure.value is not None for _, figure in figures_of(sound))


def fitted(share: slice, value: float, name: str = "pack.rx1.voltage_v"):
    """The flight with a two-cell pack noted as fitted, one channel's samples replaced."""
    pack = Pack("R1", chemistry="li_ion", cells=2, rated_mah=2600.0)
    result = analyse_flight(left(name, value, share), replace(flown()[1], packs={"rx1": pack}))
    return next(p for p in result.packs.packs if p.name == "rx1"), result


def codes(doubts):
    return {str(d.code) for d in doubts}


def test_a_few_voltages_that_no_cells_hold_are_left_out_and_said():
    found, _ = fitted(slice(None, None, 3), 32.767)
    assert found.voltage.deepest_sag_v.value < 5.0
    said = [str(e.summary) for e in found.events if e.summary.code == "packs.above_cells"]
    assert len(said) == 1
    assert "32.8 V" in said[0]
    assert "these were left out" in said[0]


def test_voltages_that_are_nearly_all_above_what_the_cells_hold_are_doubted():
    found, _ = fitted(slice(None), 65.535)
    assert codes(found.voltage.lowest_v.doubts) & {"packs.rest_impossible", "packs.above_cells"}
    assert believable(found.voltage.lowest_v) is None


def test_what_speaks_against_a_charge_speaks_against_its_parts():
    found, _ = fitted(slice(None), 65.535, "pack.rx1.current_a")
    whole = set(map(str, found.charge.used_mah.doubts))
    assert whole
    for part in (found.charge.used_wh, *(p.used_mah for p in found.charge.phases)):
        assert part.value is None or whole <= set(map(str, part.doubts))


def test_a_shaft_that_turns_faster_than_any_survives_is_doubted():
    table, context = flown()
    shaft = next(n for n in table.column_names if n.endswith("speed_rpm"))
    result = analyse_flight(left(shaft, 339_420.0, slice(None)), context)
    engine = next(e for e in result.turbine.engines if e.name == parse(shaft).instance)
    assert codes(engine.max_rpm.doubts) == {"engines.too_fast"}


def test_lists_and_pages_leave_out_or_mark_what_the_file_forbids():
    table, context = flown()
    gauge = next(n for n in table.column_names if n.endswith("remaining_ml"))
    ten = 10.0 * table[gauge].to_numpy(zero_copy_only=False).astype(float)
    column = pa.array(ten, mask=~np.isfinite(ten))
    result = analyse_flight(Telemetry(table.set_column(table.column_names.index(gauge), gauge, column)), context)
    tank = next(t for t in result.fuel.tanks if t.name == parse(gauge).instance)
    assert tank.burned.value > tank.content.start.value / 3
    assert believable(tank.burned) is None
    assert "†" in marked(tank.burned)
    assert not [e for e in result.fuel.events if e.kind == "reserve_reached" and e.subject == f"fuel.{tank.name}"]


def test_a_count_that_leaps_faster_than_anything_draws_is_doubted():
    table, context = flown()
    time_s = table["time_s"].to_numpy()
    used = np.round(time_s * 4.0)
    used[-1] *= 10.0
    kept = [n for n in table.column_names if not n.startswith("fuel.")]
    counted = table.select(kept).append_column("fuel.left.used_ml", pa.array(used))
    tank = next(t for t in analyse_flight(Telemetry(counted), context).fuel.tanks if t.name == "left")
    assert "core.count_leapt" in codes(tank.burned.doubts)
    sound = table.select(kept).append_column("fuel.left.used_ml", pa.array(np.round(time_s * 4.0)))
    tank = next(t for t in analyse_flight(Telemetry(sound), context).fuel.tanks if t.name == "left")
    assert "core.count_leapt" not in codes(tank.burned.doubts)

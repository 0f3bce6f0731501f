"""Columns under one heading: parts named by their place, quantities and units told by values, copies known as such."""

from __future__ import annotations

import io
import itertools
import re
from collections import defaultdict

import numpy as np
import pint
import pytest

from analyser.core.aircraft import Aircraft, Antenna, AntennaLayout, Engine, Receiver, Tank
from analyser.core.channels import parse
from analyser.core.findings import Finding
from importers.layout.codes import LayoutCode
from importers.layout.reconcile import described
from importers.meaning.columns import dissect
from importers.plan import Plan, plan
from importers.read import read
from importers.table import twins
from importers.table.lines import split_line
from tests.importers.exports import pool as exports
from tests.importers.exports.rules import log_of
from tests.importers.hands.flight import Flight

DECIMALS = {"voltage_v": 2, "current_a": 2, "used_mah": 0, "speed_rpm": 0, "egt_c": 0, "rssi_dbm": 0,
            "link_quality_percent": 0, "remaining_ml": 0, "used_ml": 0}  # fmt: skip
PACK, ENGINE = ("voltage_v", "current_a", "used_mah"), ("speed_rpm", "egt_c")
# Headings of one part in five languages, and the quantities they say.
SETS = (
    (("V", "A", "mAh"), "pack", PACK),
    (("Volt", "Curr", "Cap"), "pack", PACK),
    (("Akku (V)", "Akku (A)", "Akku (mAh)"), "pack", PACK),
    (("Tension accu (V)", "Courant accu (A)", "Conso accu (mAh)"), "pack", PACK),
    (("Batteria (V)", "Batteria (A)", "Batteria (mAh)"), "pack", PACK),
    (("RPM", "EGT"), "engine", ENGINE),
    (("Drehzahl (U/min)", "Abgastemperatur (°C)"), "engine", ENGINE),
    (("Régime (tr/min)", "T° échap. (°C)"), "engine", ENGINE),
    (("Giri (1/min)", "EGT (°C)"), "engine", ENGINE),
    (("Tank (ml)",), "fuel", ("remaining_ml",)),
    (("Combustible (ml)",), "fuel", ("remaining_ml",)),
)


def _seen(flight: Flight, name: str) -> np.ndarray:
    digits = DECIMALS[name.rpartition(".")[2]]
    return np.round(flight.get(name), digits)


def _log(flight: Flight, columns: list[tuple[str, np.ndarray]]) -> bytes:
    out = io.StringIO()
    out.write(",".join(["Time (s)", *(h for h, _ in columns)]) + "\n")
    for row in zip(flight.t, *(v for _, v in columns), strict=True):
        out.write(",".join(f"{x:.10g}" for x in row) + "\n")
    return out.getvalue().encode()


def _plan(flight: Flight, columns: list[tuple[str, np.ndarray]], **more: object) -> Plan:
    return plan(io.BytesIO(_log(flight, columns)), name="log.csv", **more)  # type: ignore[arg-type]


def _named(subject: str, n: int, quantity: str) -> str:
    return f"{subject}.{n}.{quantity}"


@pytest.mark.parametrize(("headings", "subject", "quantities"), SETS, ids=lambda x: str(x)[:20])
@pytest.mark.parametrize("in_turn", [True, False])
def test_parts_are_named_by_their_place(headings, subject, quantities, in_turn):
    rng = np.random.default_rng([len(headings[0]), in_turn])
    flight = Flight(rng, 250, 1.0)
    count = int(rng.integers(2, 4))
    places = list(itertools.product(range(1, count + 1), range(len(headings))))
    places = places if in_turn else sorted(places, key=lambda p: p[1])
    columns = [(headings[k], _seen(flight, _named(subject, n, quantities[k]))) for n, k in places]
    found = _plan(flight, columns)
    got = {c.heading: c.channel for c in found.columns if c.channel != "time_s"}
    want = {f"{headings[k]}#{n}": _named(subject, n, quantities[k]) for n, k in places}
    assert got == want
    draft = next(iter(read(_plan(flight, columns, answers={"doubtful": "as-shown"}))))
    table = draft.telemetry().table
    for (_, values), channel in zip(columns, got.values(), strict=True):
        np.testing.assert_allclose(table.column(channel).to_numpy(), values, rtol=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_what_a_part_alone_is_headed_by_its_values_tell(seed):
    rng = np.random.default_rng(seed)
    flight = Flight(rng, 250, 1.0)
    word = str(rng.choice(["RX", "Empfänger", "Récepteur", "Ricevente"]))
    parts = int(rng.integers(1, 3))
    quantities = ["voltage_v", "current_a", *(["used_mah"] if rng.random() < 0.5 else [])]
    rng.shuffle(quantities)
    names = [(n, q) for n in range(1, parts + 1) for q in quantities]
    found = _plan(flight, [(word, _seen(flight, f"pack.rx{n}.{q}")) for n, q in names])
    got = [c for c in found.columns if c.channel != "time_s"]
    assert [c.channel for c in got] == [f"pack.rx{n if parts > 1 else ''}.{q}" for n, q in names]
    assert not found.questions


@pytest.mark.parametrize("word", ["Turbine", "Triebwerk", "Turbina"])
def test_a_turbine_is_told_by_size(word):
    flight = Flight(np.random.default_rng(len(word)), 250, 1.0)
    names = [f"engine.{n}.{q}" for n in (1, 2) for q in ("egt_c", "speed_rpm")]
    found = _plan(flight, [(word, _seen(flight, n)) for n in names])
    assert [c.channel for c in found.columns if c.channel != "time_s"] == names
    assert not found.questions


def test_what_values_leave_open_is_asked_once():
    """Two steady columns of 8 V may be two receivers' voltages, or one's voltage and temperature."""
    flight = Flight(np.random.default_rng(3), 250, 1.0)
    volts = _seen(flight, "pack.rx1.voltage_v")
    found = _plan(flight, [("RX", volts), ("RX", np.round(volts - 0.11 + 0.01 * np.sin(flight.t), 2)),
                           ("EGT (°C)", _seen(flight, "engine.main.egt_c"))])  # fmt: skip
    assert [q.key for q in found.questions] in ([], ["doubtful"])
    channels = [c.channel for c in found.columns if c.channel != "time_s"]
    assert channels == ["pack.rx1.voltage_v", "pack.rx2.voltage_v", "engine.main.egt_c"]


@pytest.mark.parametrize("word", ["V", "Spannung (V)"])
def test_a_column_that_comes_twice_is_no_second_part(word):
    flight = Flight(np.random.default_rng(4), 250, 1.0)
    volts, amps = _seen(flight, "pack.1.voltage_v"), _seen(flight, "pack.1.current_a")
    found = _plan(flight, [(word, volts), ("A", amps), (word, volts), ("A", amps)])
    assert [c.channel.split(".")[0] for c in found.columns] == ["time_s", "pack", "pack", "extra", "extra"]
    assert {c.channel.split(".")[1] for c in found.columns[1:3]} == {"main"}


def test_columns_at_rest_are_not_taken_for_copies():
    """A log on the ground: what stands still in both packs tells nothing."""
    flight = Flight(np.random.default_rng(4), 250, 1.0)
    still = np.full(flight.rows, 8.2)
    found = _plan(flight, [("Akku (V)", still), ("EGT (°C)", _seen(flight, "engine.1.egt_c")), ("Akku (V)", still)])
    assert [c.channel for c in found.columns] == ["time_s", "pack.1.voltage_v", "engine.main.egt_c", "pack.2.voltage_v"]


@pytest.mark.parametrize(("heading", "channel", "unit", "other"), [
    ("Alt", "position.altitude_m", "meter", "foot"),
    ("Höhe", "position.altitude_m", "meter", "foot"),
    ("Speed", "position.ground_speed_m_s", "meter/second", "kilometer/hour"),
    ("Vitesse", "position.ground_speed_m_s", "meter/second", "knot"),
    ("Velocità", "position.ground_speed_m_s", "kilometer/hour", "mile/hour"),
])  # fmt: skip
@pytest.mark.parametrize("turned", [False, True])
def test_one_sensor_in_two_units_says_both(heading, channel, unit, other, turned):
    """Factors by pint, as everywhere."""
    registry = pint.get_application_registry()
    flight = Flight(np.random.default_rng(5), 250, 1.0)
    base = flight.get(channel) + (120.0 if channel.endswith("altitude_m") else 0.0)
    base = registry.Quantity(base, "meter" if channel.endswith("_m") else "meter/second")
    both = [np.round(base.to(u).magnitude, 1) for u in (unit, other)]
    both = both[::-1] if turned else both
    found = _plan(flight, [(heading, both[0]), ("EGT (°C)", _seen(flight, "engine.main.egt_c")), (heading, both[1])])
    first, third = found.columns[1], found.columns[3]
    assert first.channel == channel
    assert third.channel.startswith("extra.")
    want = base.to("meter" if channel.endswith("_m") else "meter/second").magnitude
    assert np.abs(both[0] * float(first.factor.num) - want).max() < 0.06
    assert not [q for q in found.questions if q.key.startswith("unit")]


@pytest.mark.parametrize("lost", range(6))
def test_a_part_without_one_of_its_columns_keeps_the_rest(lost):
    """Three packs, one column left out: each part still begins with the same heading, unless that one is left out."""
    flight = Flight(np.random.default_rng(lost), 250, 1.0)
    names = [(n, k) for n in (1, 2, 3) for k in range(3)]
    del names[3 + lost]
    columns = [(SETS[0][0][k], _seen(flight, _named("pack", n, PACK[k]))) for n, k in names]
    found = _plan(flight, columns)
    for c, (n, k) in zip(found.columns[1:], names, strict=True):
        asked = {h for q in found.questions for h in q.columns}
        assert c.channel == _named("pack", n, PACK[k]) or c.heading in asked


@pytest.mark.parametrize("seed", range(3))
def test_packs_that_sag_with_the_others_current_are_asked(seed):
    """Voltages first, then the currents in another order; each pack with a load and a resistance of its own."""
    rng = np.random.default_rng(seed)
    flight = Flight(rng, 250, 1.0)
    loads = [np.round(rng.uniform(0.3, 1.0) + rng.gamma(2.0, 0.6, flight.rows), 2) for _ in (1, 2)]
    volts = [np.round(8.3 - rng.uniform(0.05, 0.15) * load - 0.001 * flight.t, 2) for load in loads]
    columns = [("Akku (V)", volts[0]), ("Akku (V)", volts[1]), ("Akku (A)", loads[0]), ("Akku (A)", loads[1])]
    assert not _plan(flight, columns).questions
    crossed = _plan(flight, [*columns[:2], *reversed(columns[2:])])
    assert {h for q in crossed.questions for h in q.columns} == {c.heading for c in crossed.columns[1:]}


def test_two_columns_of_one_named_part_are_asked():
    flight = Flight(np.random.default_rng(6), 250, 1.0)
    volts = _seen(flight, "pack.rx1.voltage_v")
    columns = [("RX1 voltage (V)", volts), ("RX1 voltage (V)", np.round(volts - 0.07 * np.abs(np.sin(flight.t)), 2)),
               ("EGT (°C)", _seen(flight, "engine.main.egt_c"))]  # fmt: skip
    found = _plan(flight, columns)
    (question,) = found.questions
    assert question.key == "column.pack.rx1.voltage_v"
    assert question.answers == ("RX1 voltage (V)#1", "RX1 voltage (V)#2", "none")
    settled = _plan(flight, columns, answers={question.key: "RX1 voltage (V)#2"})
    assert not settled.questions
    assert settled.columns[2].channel == "pack.rx1.voltage_v"


def test_a_place_is_an_address():
    """``--column`` and ``--unit`` name a column by its place; no two columns are ever stored in one channel."""
    flight = Flight(np.random.default_rng(7), 250, 1.0)
    columns = [("Volt", _seen(flight, "pack.1.voltage_v")), ("Volt", np.round(_seen(flight, "pack.2.voltage_v") * 1e3))]
    answers = {"channel of Volt#1": "pack.rx1.voltage_v", "channel of Volt#2": "pack.ecu.voltage_v",
               "unit of Volt#2": "mV"}  # fmt: skip
    found = _plan(flight, columns, answers=answers)
    assert [c.channel for c in found.columns[1:]] == ["pack.rx1.voltage_v", "pack.ecu.voltage_v"]
    assert float(found.columns[2].factor.num) == 0.001
    both = {"channel of Volt#1": "pack.rx1.voltage_v", "channel of Volt#2": "pack.rx1.voltage_v"}
    assert [q.key for q in _plan(flight, columns, answers=both).questions] == ["column.pack.rx1.voltage_v"]


def test_headings_numbered_by_a_program_that_reads_tables():
    flight = Flight(np.random.default_rng(8), 250, 1.0)
    columns = [(f"{h}{end}", _seen(flight, _named("engine", n, q)))
               for n, end in ((1, ""), (2, ".1")) for h, q in zip(("RPM", "EGT"), ENGINE, strict=True)]  # fmt: skip
    found = _plan(flight, columns)
    assert [c.channel for c in found.columns[1:]] == [_named("engine", n, q) for n in (1, 2) for q in ENGINE]
    assert [c.heading for c in found.columns[1:]] == ["RPM", "EGT", "RPM.1", "EGT.1"]


def test_names_are_never_given_twice():
    rng = np.random.default_rng(9)
    for _ in range(200):
        headings = [str(rng.choice(["V", "v", "V#1", "V#2", "A", "Höhe", "hohe", ""])) for _ in range(6)]
        named = [n for n in twins.apart(headings) if n]
        assert len({n.casefold() for n in named}) == len(named)
    assert twins.apart(["a", "b"]) == ("a", "b")


def test_a_number_that_a_heading_bears_is_no_place():
    """ "Batt #1" over one column is what the logger wrote."""
    assert twins.apart(["Batt #1", "Batt #2"]) == ("Batt #1", "Batt #2")
    assert dissect("Batt #2").words == ("batt", "2")


def test_places_are_shown_beside_the_aircrafts_parts_in_order():
    engines, tanks = (Engine("left"), Engine("right")), (Tank("left"), Tank("right"))
    aircraft = described(Aircraft("Tern", engines=engines, tanks=tanks), ["rx_a", "rx_b"])
    flight = Flight(np.random.default_rng(10), 250, 1.0)
    columns = [(h, _seen(flight, f"{s}.{n}.{q}")) for n in (1, 2) for h, s, q in
               (("RPM", "engine", "speed_rpm"), ("Tank (ml)", "fuel", "remaining_ml"), ("V", "pack", "voltage_v"),
                ("A", "pack", "current_a"))]  # fmt: skip
    found = _plan(flight, columns, aircraft=aircraft)
    told = {f.values["key"]: f.values["answers"][0] for n in found.notices if isinstance(n, Finding)
            for f in n.findings() if f.code == LayoutCode.PART_NOT_IN_FILE}  # fmt: skip
    assert told == {"part.engine.1": "left", "part.engine.2": "right", "part.fuel.1": "left", "part.fuel.2": "right",
                    "part.pack.1": "rx_a", "part.pack.2": "rx_b"}  # fmt: skip
    assert set(found.unsettled) == {k.removeprefix("part.") for k in told}
    settled = _plan(flight, columns, aircraft=aircraft, answers=told)
    assert not settled.unsettled
    assert {c.channel for c in settled.columns} >= {
        "engine.right.speed_rpm",
        "fuel.left.remaining_ml",
        "pack.rx_b.voltage_v",
    }


@pytest.mark.parametrize(("receivers", "antennas", "name"), [
    (3, 0, "link.rx{n}.rssi_dbm"), (1, 3, "link.main.antenna{n}_rssi_dbm"), (2, 2, ""),
])  # fmt: skip
def test_signals_are_receivers_or_antennas_by_the_aircrafts_file(receivers, antennas, name):
    fitted = [Antenna("main", n + 1, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)) for n in range(antennas)]
    layout = AntennaLayout("first", tuple(fitted))
    names = ["main"] if receivers == 1 else [f"rx{n + 1}" for n in range(receivers)]
    aircraft = Aircraft("Tern", receivers=tuple(Receiver(n) for n in names), layouts=(layout,) if antennas else ())
    flight = Flight(np.random.default_rng(11), 250, 1.0)
    found = _plan(flight, [("RSSI", _seen(flight, f"link.rx{n}.rssi_dbm")) for n in (1, 2, 3)], aircraft=aircraft)
    if not name:
        assert [q.key for q in found.questions] == ["doubtful"]
        return
    assert [c.channel for c in found.columns[1:]] == [name.format(n=n) for n in (1, 2, 3)]
    assert not found.questions


_BORNE = re.compile(r"[ _.#-]?(?<![\d.,])([1-4])(?![\d.,/])")


def _unnumbered(headings: list[str]) -> dict[int, str]:
    """Headings that differ by a number alone, counted from 1 in order, without it, by column."""
    groups: dict[str, dict[int, int]] = defaultdict(dict)
    for i, heading in enumerate(headings):
        for m in _BORNE.finditer(heading):
            groups[heading[: m.start()] + heading[m.end() :]].setdefault(int(m[1]), i)
    out: dict[int, str] = {}
    for bare, at in groups.items():
        places = [at[n] for n in sorted(at)]
        if len(at) > 1 and sorted(at) == list(range(1, len(at) + 1)) and places == sorted(places):
            out |= {} if out.keys() & at.values() else dict.fromkeys(places, bare)
    return out


def test_numbers_that_headings_bear_may_as_well_be_left_out():
    """Exports of others' hands: without the numbers every column is what it was, or is asked; and few are."""
    count = {"as before": 0, "asked": 0, "unknown": 0}
    every = [hand for half in ("open", "sealed", "third", "fourth") for hand in exports.HALVES[half]]
    for log in (log_of(hand, 1) for hand in every[::8]):
        data = log.text.encode()
        was = plan(io.BytesIO(data), name="log.csv")
        header, delimiter = was.dialect.header, was.dialect.delimiter
        bare = _unnumbered(list(was.dialect.written))
        if not bare or split_line(header, delimiter) != list(was.dialect.written) or was.dialect.encoding.mark:
            continue
        head = delimiter.join(bare.get(i, h) for i, h in enumerate(was.dialect.written))
        now = plan(io.BytesIO(data.replace(header.encode(), head.encode(), 1)), name="log.csv")
        asked = {h for q in now.questions for h in q.columns}
        open_before = {h for q in was.questions for h in q.columns}  # what the numbers have nothing to do with
        names: dict[tuple[str, str], set[str]] = defaultdict(set)
        new = {c.column: c for c in now.columns}
        for c in was.columns:
            before, after = parse(c.channel), parse(new[c.column].channel) if c.column in new else None
            if before is None or new[c.column].heading in asked:
                count["asked"] += before is not None and c.heading not in open_before
            elif after is None:
                count["unknown"] += 1
            else:
                count["as before"] += 1
                assert (after.channel, after.number) == (before.channel, before.number), c.heading
                assert new[c.column].factor == c.factor
                names[before.channel.subject, before.instance or ""].add(after.instance or "")
        assert all(len(some) == 1 for some in names.values()), names
    assert count["as before"] > 60
    assert count["unknown"] + count["asked"] < 0.05 * count["as before"]

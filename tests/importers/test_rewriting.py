"""Files that are no table of rows until rewritten: what is read is what a plain table of the same flight gives."""

from __future__ import annotations

import io
import pickle

import numpy as np
import pyarrow as pa
import pytest

from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from importers.table.rewriting import Rewritten
from importers.table.source import Source
from reports.words.catalogue import text as words
from tests.importers.hands.flight import Flight

LANGUAGES = {
    "en": ("Time (s)", ("RX voltage (V)", "RX current (A)", "EGT (°C)", "RPM")),
    "de": ("Zeit (s)", ("Empfänger Spannung (V)", "Empfänger Strom (A)", "Abgastemperatur (°C)", "Drehzahl (U/min)")),
    "fr": ("Temps (s)", ("Tension récepteur (V)", "Courant récepteur (A)", "T° échappement (°C)", "Régime (tr/min)")),
}
CHANNELS = ("pack.rx.voltage_v", "pack.rx.current_a", "engine.main.egt_c", "engine.main.speed_rpm")
DIGITS = (2, 2, 0, 0)


def _cells(seed: int, mark: str, rows: int = 130) -> tuple[list[str], list[list[str]]]:
    flight = Flight(np.random.default_rng(seed), rows, 0.5)
    made = [[f"{v:.{d}f}".replace(".", mark) for v in flight.get(c)] for c, d in zip(CHANNELS, DIGITS, strict=True)]
    return [f"{t:.1f}".replace(".", mark) for t in flight.t], made


def _read(text: str | bytes) -> pa.Table:
    data = text.encode() if isinstance(text, str) else text
    found = plan(io.BytesIO(data), name="log.csv")
    assert not found.questions
    table = next(iter(read(found))).telemetry().table
    return table.select(["time_s", *CHANNELS])


def _plain(time: list[str], columns: list[list[str]], head: tuple[str, ...], delimiter: str) -> str:
    rows = zip(time, *columns, strict=True)
    return "\n".join(delimiter.join(r) for r in [head, *rows]) + "\n"


def _both(seed: int, language: str) -> tuple[str, list[str], str, tuple[str, ...], list[list[str]]]:
    """Delimiter, times and columns of one flight with its headings."""
    mark = "." if language == "en" else ","
    time, columns = _cells(seed, mark)
    clock, headings = LANGUAGES[language]
    return ";" if mark == "," else ",", time, clock, headings, columns


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("quoted", [False, True])
def test_texts_of_a_spreadsheet(language, quoted):
    delimiter, time, clock, headings, columns = _both(1, language)
    want = _read(_plain(time, columns, (clock, *headings), delimiter))
    form = '"=""{}"""' if quoted else '="{}"'
    wrapped = [[form.format(c) for c in column] for column in columns]
    got = _read(_plain(time, wrapped, (clock, *map(form.format, headings)), delimiter))
    assert got.equals(want)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("seed", range(3))
def test_a_table_on_its_side(language, seed):
    delimiter, time, clock, headings, columns = _both(seed, language)
    want = _read(_plain(time, columns, (clock, *headings), delimiter))
    rows = [[clock, *time], *([h, *c] for h, c in zip(headings, columns, strict=True))]
    if seed == 1:  # the unit in a cell of its own
        rows = [[*r[0].rstrip(")").split(" ("), ""][:2] + r[1:] for r in rows]
    if seed == 2:  # the time somewhere among the sensors
        rows = [*rows[1:], rows[0]]
    assert _read("\n".join(delimiter.join(r) for r in rows) + "\n").equals(want)


def test_a_table_on_its_side_without_a_time_is_refused():
    time, columns = _cells(2, ".")
    text = "\n".join(",".join([h, *c]) for h, c in zip(LANGUAGES["en"][1], columns, strict=True))
    with pytest.raises(Refusal, match="on its side, one row a sensor"):
        plan(io.BytesIO(text.encode()), name="log.csv")
    assert time


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("form", ["a sensor each", "a part each", "no titles"])
def test_tables_one_below_the_other(language, form):
    delimiter, time, clock, headings, columns = _both(3, language)
    want = _read(_plain(time, columns, (clock, *headings), delimiter))
    value = {"en": "Value", "de": "Wert", "fr": "Valeur"}[language]
    pieces = [((h,), (value,), (c,)) for h, c in zip(headings, columns, strict=True)]
    if form != "a sensor each":
        titles = {"en": ("[Radio]", "[Turbine]"), "de": ("# Funk", "# Turbine"), "fr": ("Radio:", "Turbine:")}[language]
        pieces = [((titles[n],), headings[2 * n : 2 * n + 2], tuple(columns[2 * n : 2 * n + 2])) for n in (0, 1)]
    text = ""
    for title, names, some in pieces:
        text += ("" if form == "no titles" else title[0] + "\n") + _plain(time, list(some), (clock, *names), delimiter)
        text += "\n"
    if form == "a part each":  # the title is part of the name
        text = text.replace("Funk", "Empfänger").replace("Radio", "Receiver")
    assert _read(text).equals(want)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("named", [False, True])
def test_tables_side_by_side_with_a_time_each(language, named):
    """Each sensor at its own rate; shorter columns end early; times have one heading, or their sensor's name."""
    delimiter, time, clock, headings, columns = _both(3, language)
    steps, rows = (1, 2, 4, 3), []
    for i in range(len(time)):
        row = []
        for step, column in zip(steps, columns, strict=True):
            row += [time[i * step], column[i * step]] if i * step < len(time) else ["", ""]
        rows.append(row)
    name, _, unit = clock.partition(" ")
    head = [h for heading in headings for h in (f"{heading.split(' (')[0]} {name} {unit}" if named else clock, heading)]
    got = _read("\n".join(delimiter.join(r) for r in [head, *rows]) + "\n")
    want = _read(_plain(time, columns, (clock, *headings), delimiter))
    for step, channel in zip(steps, CHANNELS, strict=True):
        assert got.column(channel).drop_null().to_pylist() == want.column(channel).to_pylist()[::step]
        at = np.flatnonzero(got.column(channel).is_valid().to_numpy())
        np.testing.assert_allclose(got.column("time_s").to_numpy()[at], want.column("time_s").to_numpy()[::step])


def test_two_clocks_over_one_name_are_refused():
    """Whose voltage is on which clock could be told, but not what to call the two."""
    time, columns = _cells(3, ".")
    table = [time, columns[0], [f"{2 * float(t):.1f}" for t in time], columns[0]]
    rows = [("Time (s)", "RX voltage (V)") * 2, *zip(*table, strict=True)]
    with pytest.raises(Refusal, match="two clocks of one heading"):
        plan(io.BytesIO(("\n".join(map(",".join, rows)) + "\n").encode()), name="log.csv")


def test_one_clock_that_comes_again_is_no_second_table():
    delimiter, time, clock, headings, columns = _both(3, "en")
    table = [time, columns[0], time, columns[1]]
    rows = [(clock, headings[0], clock, headings[1]), *zip(*table, strict=True)]
    found = plan(io.BytesIO(("\n".join(map(delimiter.join, rows)) + "\n").encode()), name="log.csv")
    assert not isinstance(found.origin, Rewritten)
    assert {c.channel for c in found.columns} >= set(CHANNELS[:2])


def test_flights_one_below_the_other_are_no_sensors():
    """The same header under titles that name no part: two flights, as ever."""
    delimiter, time, clock, headings, columns = _both(4, "en")
    table = _plain(time, columns, (clock, *headings), delimiter)
    found = plan(io.BytesIO(f"Morning\n{table}\nAfternoon\n{table}".encode()), name="log.csv")
    assert not isinstance(found.origin, Rewritten)


@pytest.mark.parametrize("mark", ["=", ":"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", " "])
def test_cells_that_name_their_value(mark, delimiter):
    time, columns = _cells(5, ".")
    names = ("t", "rx_V", "rx_A", "egt_C", "rpm")
    rows = list(zip(time, *columns, strict=True))
    want = _read(_plain(time, columns, ("t", "rx_V", "rx_A", "egt_C", "rpm"), ","))
    cells = [[f"{n}{mark}{c}" for n, c in zip(names, r, strict=True)] for r in rows]
    for row in cells[7::9]:  # their order does not matter where each has its name
        row[1], row[3] = row[3], row[1]
    assert _read("\n".join(map(delimiter.join, cells)) + "\n").equals(want)


@pytest.mark.parametrize("stamp", ["12:00:{:04.1f}", "2024-05-01 12:00:{:04.1f}", "{:.1f}"])
@pytest.mark.parametrize("delimiter", [" ", ",", ";"])
def test_lines_that_begin_with_a_time_and_name_the_rest(stamp, delimiter):
    time, columns = _cells(5, ".", 100)
    names = ("rx_V", "rx_A", "egt_C", "rpm")
    rows = [[stamp.format(float(t)), *(f"{n}={c}" for n, c in zip(names, r, strict=True))]
            for t, *r in zip(time, *columns, strict=True)]  # fmt: skip
    got, want = _read("\n".join(map(delimiter.join, rows)) + "\n"), _read(_plain(time, columns, ("t", *names), ","))
    assert got.drop_columns(["time_s"]).equals(want.drop_columns(["time_s"]))
    np.testing.assert_allclose(got.column("time_s"), want.column("time_s"), atol=1e-9)


def test_clocks_that_begin_elsewhere_are_left_as_they_are():
    time, columns = _cells(3, ".")
    later = [f"{1e6 + float(t):.1f}" for t in time]
    rows = [("Rx time", "Rx V", "GPS time", "GPS speed (m/s)"), *zip(time, columns[0], later, columns[1], strict=True)]
    found = plan(io.BytesIO(("\n".join(map(",".join, rows)) + "\n").encode()), name="log.csv")
    assert not isinstance(found.origin, Rewritten)


@pytest.mark.parametrize(("heads", "names"), [
    (("Time (s)", "RX", "RX 2", "Turbine", "Shaft"), ("V", "A", "EGT", "rpm")),
    (("Zeit (s)", "Empfänger", "Empfängerstrom (A)", "Abgas", "Drehzahl"), ("V", "A", "°C", "U/min")),
])  # fmt: skip
def test_names_in_cells_beside_headings(heads, names):
    time, columns = _cells(6, ".")
    named = [[f"{n}={c}" for c in column] for n, column in zip(names, columns, strict=True)]
    found = plan(io.BytesIO(_plain(time, named, heads, ",").encode()), name="log.csv")
    got = {c.channel.rpartition(".")[2] for c in found.columns}
    assert got >= {"voltage_v", "current_a", "egt_c", "speed_rpm"}


def test_names_that_headings_contradict_are_not_believed():
    time, columns = _cells(7, ".")
    named = [[f"A={c}" for c in columns[0]], *columns[1:]]
    found = plan(io.BytesIO(_plain(time, named, ("Time (s)", *LANGUAGES["en"][1]), ",").encode()), name="log.csv")
    assert "pack.rx.voltage_v" not in {c.channel for c in found.columns}


def test_a_name_that_comes_late_is_not_lost_in_silence():
    time, columns = _cells(8, ".")
    cells = [f"t={t},rpm={r}" for t, r in zip(time, columns[3], strict=True)]
    cells[-1] += ",surge=1"
    with pytest.raises(Refusal):
        _read("\n".join(cells) + "\n")


def test_a_rewritten_file_is_known_by_its_own_content():
    delimiter, time, clock, headings, columns = _both(9, "en")
    text = "\n".join(delimiter.join([h, *c]) for h, c in [(clock, time), *zip(headings, columns, strict=True)]) + "\n"
    origin = Source(io.BytesIO(text.encode()), "log.csv")
    found = plan(origin)
    assert isinstance(found.origin, Rewritten)
    assert found.origin.content_sha256() == origin.content_sha256()
    assert "turned" in words(found.notices[0])
    again = plan(found.origin)
    assert again.columns == found.columns
    kept = found.origin.__getstate__()
    assert pickle.loads(pickle.dumps({k: v for k, v in kept.items() if k != "origin"}))["told"] == found.origin.told


def _long(time: list[str], sensors: list[tuple[str, list[str]]], head: str = "Time (s),Sensor,Value") -> str:
    return head + "\n" + "".join(f"{t},{name},{v[i]}\n" for i, t in enumerate(time) for name, v in sensors)


@pytest.mark.parametrize("word", ["RX voltage (V)", "Empfängerspannung (V)"])
@pytest.mark.parametrize("all_twice", [False, True])
def test_a_sensor_that_comes_twice_at_each_time(word, all_twice):
    """Two receivers under one name: numbered in order where their voltages lie apart."""
    time, columns = _cells(10, ".")
    other = [f"{float(v) - 1.4:.2f}" for v in columns[0]]
    warm = [f"{float(v) + 90:.0f}" for v in columns[2]]
    sensors = [(word, columns[0]), ("EGT (°C)", columns[2]), (word, other)]
    found = plan(io.BytesIO(_long(time, [*sensors, *([("EGT (°C)", warm)] if all_twice else [])]).encode()), name="x")
    table = next(iter(read(found))).telemetry().table
    assert table.column("pack.rx1.voltage_v").to_pylist() == list(map(float, columns[0]))
    assert table.column("pack.rx2.voltage_v").to_pylist() == list(map(float, other))
    assert "come" in words(found.notices[0])


def test_a_coarse_clock_makes_no_second_sensor():
    """Quick and slow sensors stamped with whole seconds."""
    time, columns = _cells(11, ".")
    whole = [f"{int(float(t))}" for t in time]
    rows = [f"{t},RX voltage (V),{v}\n" + (f"{t},EGT (°C),{e}\n" if not i % 2 else "")
            for i, (t, v, e) in enumerate(zip(whole, columns[0], columns[2], strict=True))]  # fmt: skip
    found = plan(io.BytesIO(("Time (s),Sensor,Value\n" + "".join(rows)).encode()), name="x")
    assert {c.channel for c in found.columns} == {"pack.rx.voltage_v", "engine.main.egt_c"}


def test_sensors_of_one_name_that_values_do_not_tell_apart_are_refused():
    time, columns = _cells(12, ".")
    text = _long(time, [("RX voltage (V)", columns[0]), ("RX voltage (V)", columns[0][1:] + columns[0][:1]),
                        ("EGT (°C)", columns[2])])  # fmt: skip
    with pytest.raises(Refusal, match="the sensor 'RX voltage \\(V\\)' several times at one time"):
        plan(io.BytesIO(text.encode()), name="x")


def test_what_stands_above_a_rewritten_table_is_kept():
    delimiter, time, _, headings, columns = _both(13, "en")
    rows = [delimiter.join([h, *c]) for h, c in [("Time", [f"12:00:{float(t):04.1f}" for t in time[:100]]),
                                                 *zip(headings, [c[:100] for c in columns], strict=True)]]  # fmt: skip
    found = plan(io.BytesIO(("Date: 2024-05-01\n" + "\n".join(rows) + "\n").encode()), name="x.csv")
    assert found.preamble["date"] == "2024-05-01"

"""Numbers that several headings declare together: Roman numerals, codes of engines, the sum of a pack's cells.

The logs are drawn anew for each seed; words of three languages, common practice, no source.
"""

import random
from functools import lru_cache

import numpy as np
import pytest

from importers.layout.numbering import declared
from importers.meaning import units
from importers.meaning.heading import dissect
from tests.importers.test_tags import ROWS, flight, found, planned

TWINS = {
    "de": ("Triebwerk {} Drehzahl (1/min)", "Triebwerk {} Abgastemperatur (°C)", "Empfänger {} Akkuspannung (V)"),
    "en": ("Engine {} rpm", "Engine {} EGT (degC)", "Receiver {} battery (V)"),
    "fr": ("Réacteur {} régime (tr/min)", "Réacteur {} échappement (°C)", "Récepteur {} tension accu (V)"),
}


def twins(seed):
    return [flight(seed), flight(seed + 50)]


@pytest.mark.parametrize("language", TWINS)
@pytest.mark.parametrize("numbers", [("I", "II"), ("1", "2"), ("n°1", "n°2"), ("#1", "#2")])
def test_roman_and_marked_numbers_name_parts(language, numbers):
    shaft, exhaust, pack = TWINS[language]
    columns = {}
    for number, values in zip(numbers, twins(len(language + numbers[0])), strict=True):
        columns[shaft.format(number)] = values["engine.main.speed_rpm"]
        columns[exhaust.format(number)] = values["engine.main.egt_c"]
        columns[pack.format(number)] = values[f"pack.rx{numbers.index(number) + 1}.voltage_v"]
    names = list(columns)
    drawn = random.Random(language).sample(names, len(names))
    channels = found({h: columns[h] for h in drawn})
    for n, number in enumerate(numbers, 1):
        assert channels[shaft.format(number)] == f"engine.{n}.speed_rpm"
        assert channels[exhaust.format(number)] == f"engine.{n}.egt_c"
        assert channels[pack.format(number)] == f"pack.rx{n}.voltage_v"


def test_a_lone_roman_numeral_is_none():
    for some in (("Pack I (A)", "Pack U (V)"), ("I ECU", "U ECU"), ("Akku I", "Akku U")):
        headings = [dissect(h) for h in some]
        assert [h.words for h in declared(headings)] == [h.words for h in headings]


@pytest.mark.parametrize(
    "shape", ["E{} shaft (rpm)|E{} exhaust (degC)", "E{} rpm|E{} EGT", "shaft E{} (rpm)|exhaust E{} (degC)"]
)
def test_a_code_of_engines_is_read_where_there_are_two(shape):
    shaft, exhaust = shape.split("|")
    columns = {}
    for n, values in enumerate(twins(3), 1):
        columns[shaft.format(n)] = values["engine.main.speed_rpm"]
        columns[exhaust.format(n)] = values["engine.main.egt_c"]
    channels = found(columns)
    assert [channels[h] for h in columns] == [
        "engine.1.speed_rpm", "engine.1.egt_c", "engine.2.speed_rpm", "engine.2.egt_c"]  # fmt: skip
    alone = [dissect("E1 RSSI (dBm)"), dissect("E2 RSSI (dBm)")]
    assert [h.words for h in declared(alone)] == [h.words for h in alone]  # antennas perhaps


@pytest.mark.parametrize(("cell", "whole"), [
    ("Rx1 c{}", "Rx1 total"), ("Empfängerakku Zelle {} (V)", "Empfängerakku ges. (V)"),
    ("Accu réception élt {} V", "Accu réception total V"), ("Batteria ricevente cella {} (V)",
    "Batteria ricevente totale"),
])  # fmt: skip
@pytest.mark.parametrize("count", [2, 3])
def test_the_sum_of_cells_is_their_packs_voltage(cell, whole, count):
    rng = np.random.default_rng(count)
    cells = [np.round(4.0 - 0.001 * np.arange(ROWS) + rng.normal(0, 0.01, ROWS), 3) for _ in range(count)]
    columns = {cell.format(n): x for n, x in enumerate(cells, 1)} | {whole: np.round(sum(cells), 2)}
    p = planned(columns | {"Shaft (rpm)": flight(1)["engine.main.speed_rpm"]})
    channels = {c.heading: c.channel for c in p.columns}
    pack = channels[whole].rpartition(".")[0]
    assert pack.startswith("pack.rx")
    assert channels[whole].endswith(".voltage_v")
    assert [channels[cell.format(n)] for n in range(1, count + 1)] == [f"{pack}.cell{n}_v" for n in range(1, count + 1)]


@lru_cache(maxsize=1)
def _registry(pint):
    return pint.UnitRegistry()


@pytest.mark.parametrize("one", ["mL min^-1", "m s^-1", "m s⁻²", "L·h^-1", "km h-1"])
def test_negative_powers_are_rates(one):
    pint = pytest.importorskip("pint")  # the outside check: a registry that reads powers
    written = one.replace("⁻²", "^-2").replace("h-1", "h^-1").replace("·", "*").replace(" ", "*")
    found = units.understand(one)
    assert found is not None
    registry = _registry(pint)
    assert registry.Quantity(1, found).to(written.replace("^", "**")).magnitude == pytest.approx(1)


def cells(*headings, step=1000):
    """The channels of cells that sag alike, in millivolts."""
    pack = np.linspace(4.15, 3.7, ROWS)
    values = {h: np.round(step * (pack - 0.01 * i), 0 if step > 1 else 3) for i, h in enumerate(headings)}
    return found({"Turbine rpm": flight(1)["engine.main.speed_rpm"], **values})


@pytest.mark.parametrize(
    "shape",
    ["Zelle {}.{} (mV)", "Cellule {}-{} mV", "celda_{}_{}_mV", "Cell voltage {}/{} [mV]", "Cella {}.{} mV", "c{}_{}"],
)
def test_two_numbers_of_a_cell_are_of_its_pack_and_its_own(shape):
    grid = [(pack, cell) for pack in (1, 2) for cell in (1, 2, 3)]
    said = cells(*(shape.format(*pair) for pair in grid))
    assert [said[shape.format(*pair)] for pair in grid] == [f"pack.{p}.cell{c}_v" for p, c in grid]


def test_the_set_of_numbers_tells_which_is_the_packs():
    said = cells("Elem. 1.1 V", "Elem. 2.1 V", "Elem. 3.1 V", step=1)
    assert [said[f"Elem. {n}.1 V"] for n in (1, 2, 3)] == [f"pack.1.cell{n}_v" for n in (1, 2, 3)]


def test_cells_without_any_below_eleven_are_of_two_packs():
    said = cells(*(f"Zelle {pack}{cell} (mV)" for pack in (1, 2) for cell in (1, 2, 3)))
    assert (said["Zelle 13 (mV)"], said["Zelle 21 (mV)"]) == ("pack.1.cell3_v", "pack.2.cell1_v")
    said = cells(*(f"Zelle {n} (mV)" for n in range(1, 13)))
    assert (said["Zelle 2 (mV)"], said["Zelle 12 (mV)"]) == ("pack.main.cell2_v", "pack.main.cell12_v")


@pytest.mark.parametrize("shape", ["Zelle {}{} (mV)", "cell {}{} [mV]"])
def test_a_letter_behind_the_number_of_a_cell_is_asked(shape):
    pack = np.linspace(4150, 3700, ROWS).round()
    made = planned({shape.format(n, letter): pack for n in (1, 2) for letter in "ab"})
    assert {h for q in made.questions for h in q.columns} == {c.heading for c in made.columns[1:]}


@pytest.mark.parametrize("pairs", [((1, 1), (2, 1), (1, 2), (2, 2)), ((1, 2), (2, 1)), ((1, 1), (1, 3), (2, 1))])
def test_where_it_does_not_tell_it_is_asked(pairs):
    headings = [f"Cell {a}.{b} [mV]" for a, b in pairs]
    pack = np.linspace(4150, 3700, ROWS)
    made = planned({"Turbine rpm": flight(1)["engine.main.speed_rpm"], **dict.fromkeys(headings, pack.round())})
    asked = {h for q in made.questions for h in q.columns}
    assert asked >= {c.heading for c in made.columns if not c.channel.startswith(("extra.", "time_s", "engine."))}
    assert set(headings) & asked or all(c.channel.startswith("extra.") for c in made.columns if c.heading in headings)


@pytest.mark.parametrize("letter", ["E", "R"])
def test_a_code_is_a_receivers_where_some_have_what_receivers_alone_have(letter):
    rng = np.random.default_rng(4)
    signal, lost = [np.rint(80 + rng.normal(0, 4, ROWS)) for _ in range(2)], np.arange(ROWS) // 20
    columns = {f"{letter}{n} {what}": values for n in (1, 2)
               for what, values in (("Pegel (%)", signal[n - 1]), ("Ant 1 (%)", signal[n - 1] - 1),
                                    ("Ant 2 (%)", signal[n - 1] - 3), ("verlorene Pakete", lost))}  # fmt: skip
    said = found(columns)
    assert {said[f"{letter}{n} Pegel (%)"] for n in (1, 2)} == {"link.rx1.signal_percent", "link.rx2.signal_percent"}
    assert said[f"{letter}2 verlorene Pakete"] == "link.rx2.lost_frames"


def test_a_code_of_nothing_but_signals_may_be_an_antennas():
    signal = np.rint(80 + np.random.default_rng(4).normal(0, 4, ROWS))
    own = {f"Turbine {name}": flight(2)[f"engine.main.{name}"] for name in ("speed_rpm", "egt_c")}
    lost = {f"E{n} lost frames": np.arange(ROWS) // 20 for n in (1, 2)}
    p = planned({**own, **lost, "E1 signal (%)": signal, "E2 signal (%)": signal - 2})
    assert {h for q in p.questions for h in q.columns} == {"E1 signal (%)", "E2 signal (%)", *lost}

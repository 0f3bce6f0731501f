"""What looks at many cells at once gives what a general library gives cell by cell."""

from __future__ import annotations

import csv
import itertools
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from importers.meaning import factors, units, witness
from importers.relations.courses import Course, alike
from importers.relations.opinion import LEAST
from importers.table.columns import different
from importers.table.dialect import sniff
from importers.table.lines import Lines, split_line
from importers.table.text import Encoding
from importers.table.values import plain_numbers, without_nulls
from tests.importers import factors_file


def test_factors_are_those_of_the_registry_of_units() -> None:
    """Source: pint's registry (BSD 3-clause), the units of NIST SP 811 and CODATA among them."""
    assert factors_file.FILE.read_text(encoding="utf-8") == factors_file.made()


@pytest.mark.parametrize("wanted", ["°C", "mL", "mL/min", "V", "W"])
def test_units_convert_as_the_registry_of_units_converts_them(wanted: str) -> None:
    """Source: the same; of another kind is what pint refuses to convert."""
    registry, target = units.registry(), units._CANONICAL.get(wanted, wanted)
    for unit in factors.table():
        got = units.conversion(unit, wanted)
        assert (got is not None) == registry.Unit(unit).is_compatible_with(target), unit
        if got is not None:
            there = registry.Quantity(Fraction(7, 3), unit).to(target).magnitude
            assert Fraction(7, 3) * got.num + got.offset == there, unit


def test_no_word_for_a_unit_loads_the_registry(monkeypatch: pytest.MonkeyPatch) -> None:
    def loaded() -> None:
        raise AssertionError("the registry was loaded")

    monkeypatch.setattr(units, "registry", loaded)
    units.conversion.cache_clear()
    for unit in units.expressions():
        for wanted in units._CANONICAL:
            units.conversion(unit, wanted)


def test_words_that_are_not_looked_up_are_no_units() -> None:
    """Source: pint's registry."""
    assert [word for word in units._NO_UNITS if units._pint_reads(word)] == []


_LINES = st.text(st.sampled_from("12a.,;\t -+:'|\u00a0\u2028"), max_size=40)


@given(_LINES, st.sampled_from(",;\t|"))
def test_lines_without_quotes_are_split_as_by_the_standard_library(line: str, delimiter: str) -> None:
    """Source: Python's csv module (RFC 4180)."""
    assert split_line(line, delimiter) == [c.strip() for c in next(csv.reader([line], delimiter=delimiter), [])]


@given(
    st.lists(st.one_of(st.integers(-9, 9).map(float), st.floats(-1e6, 1e6), st.sampled_from([-999.0, 65535.0])),
             min_size=1, max_size=120)
)  # fmt: skip
def test_values_are_summed_up_as_numpy_does(values: list[float]) -> None:
    """Source: numpy's quantile (method "nearest") and unique."""
    seen = witness.numbers(values)
    assert seen is not None
    left = np.array(values)
    if seen.count < left.size:  # one value that stands for none was left out
        gone = (
            left.max()
            if seen.high < left.max() and (left == left.max()).sum() == left.size - seen.count
            else left.min()
        )
        left = left[left != gone]
    edge = 0.02 if left.size > 24 else 0.0
    low, below, middle, above, high = np.quantile(left, [edge, 0.1, 0.5, 0.9, 1 - edge], method="nearest")
    assert (seen.low, seen.middle, seen.high, seen.broad) == (low, middle, high, (below, above))
    assert (seen.kinds, seen.count) == (np.unique(left).size, left.size)


@given(st.lists(st.sampled_from(["", "0", "1", "7", "x"]), min_size=1, max_size=9))
def test_cells_of_one_character_differ_as_a_set_of_them_tells(cells: list[str]) -> None:
    lines = Lines([(n, f"{cell},1.5") for n, cell in enumerate(cells, 1)])
    lines.delimiter = ","
    columns = lines.columns(range(len(cells)), 2, 0)
    columns.read_numbers()
    assert different(columns.filled(0)) == set(filter(None, cells))


ROWS = [["t (s)", "Rx V", "state"], *([str(i), f"{8 - i / 50:.2f}", "on" if i % 3 else ""] for i in range(30))]


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
@pytest.mark.parametrize("way", ["plain", "blanks", "quoted", "short", "spare"])
def test_cells_by_column_are_those_that_csv_reads(mark: str, way: str) -> None:
    """Source: the standard library's csv module."""
    lines = [{
        "plain": mark.join(r), "blanks": f"{mark} ".join(r) + " ", "quoted": mark.join(f'"{c}"' for c in r),
        "short": mark.join(r).removesuffix(mark), "spare": mark.join([*r, "", ""]),
    }[way] for r in ROWS]  # fmt: skip
    text = "\n".join(lines) + "\n"
    dialect, columns = sniff(text, Encoding("utf-8", 0), "log")
    read = [[c.strip() for c in r] for r in csv.reader(lines[1:], delimiter=mark)]
    wanted = [[r[i] if i < len(r) else "" for r in read] for i in range(3)]
    assert dialect.headings == tuple(ROWS[0])
    assert [columns.some(i, [4, 0, 9]) for i in range(3)] == [[c[4], c[0], c[9]] for c in wanted]
    assert list(columns) == wanted
    _, again = sniff(text, Encoding("utf-8", 0), "log")
    again.read_numbers()
    odd = np.arange(len(read)) % 2 == 1
    again.keep(odd)
    for i, cells in enumerate(c[1::2] for c in wanted):
        filled = [c for c in cells if c]
        assert (again.rows, again.holds(i), again.numeric(i)) == (len(cells), bool(filled), i < 2 and way != "quoted")
        assert list(again.filled(i)) == list(again.filled(i)[:]) == filled
        assert (again.filled(i)[2], len(again.filled(i)), different(again.filled(i))) == (
            filled[2], len(filled), set(filled))  # fmt: skip
    again[0] = ["x"] * again.rows
    assert (again[0][0], again.numeric(0)) == ("x", False)


def test_what_says_that_there_is_no_value_is_empty() -> None:
    assert without_nulls(["n/a", "2", "---", "", "-1"]) == ["", "2", "", "", "-1"]
    assert without_nulls([]) == []


@pytest.mark.parametrize(
    ("cells", "plain"),
    [(["1.5", "-2"], True), (["7,98"], True), ([], True), (["7.98 V"], False), (["10:12"], False), (["1e3"], False)],
)
def test_plain_numbers_have_no_unit_or_letter(cells: list[str], plain: bool) -> None:
    assert plain_numbers(cells) is plain


def test_numbers_read_in_one_pass_are_those_that_python_reads() -> None:
    """Source: Python's own float, cell by cell."""
    columns = {
        "plain": ["1.25", "", "-3e-2", ".5"], "whole": ["1", "-2", "", "007"],
        "long": ["9007199254740993", "1", "2", "3"],
        "signed": ["1", "-0", "2", "3"], "odd": ["nan(ind)", "1.5", "2.5", "3.5"], "text": ["1", "2", "x", "4"],
        "grouped": ["1_000", "2", "3", "4"], "endless": ["inf", "-inf", "1.5", "2.5"], "none": ["", "", "", ""],
    }  # fmt: skip
    lines = Lines([(n, ",".join(row)) for n, row in enumerate(zip(*columns.values(), strict=True), 1)])
    lines.delimiter = ","
    read = _numbers(lines, 4, len(columns))
    names = list(columns)
    assert {"plain", "whole", "long", "endless"} == {names[i] for i in read}
    for i, numbers in read.items():
        np.testing.assert_array_equal(numbers, [float(c or "nan") for c in columns[names[i]]])
    hexadecimal = Lines([(1, "0x1F,2"), (2, "3,4")])
    hexadecimal.delimiter = ","
    assert _numbers(hexadecimal, 2, 2) == {}


def _numbers(lines: Lines, rows: int, width: int) -> dict[int, np.ndarray]:
    columns = lines.columns(range(rows), width, 0)
    columns.read_numbers()
    return columns.numbers


@given(st.lists(st.text("0019.-+eExXnNaifIF_() ", max_size=6).map(str.strip), min_size=1, max_size=6))
def test_no_number_is_read_otherwise_than_python_reads_it(cells: list[str]) -> None:
    """Source: Python's own float, cell by cell, signs of nought included."""
    lines = Lines([(n, f"7,{cell}") for n, cell in enumerate(cells, 1)])
    lines.delimiter = ","
    read = _numbers(lines, len(cells), 2).get(1)
    if read is not None:
        wanted = np.array([float(c or "nan") for c in cells])
        np.testing.assert_array_equal(read, wanted)
        assert (np.signbit(read) == np.signbit(wanted))[~np.isnan(wanted)].all()


@pytest.mark.parametrize("course", Course)
def test_all_columns_at_once_go_along_as_numpy_says_of_each_pair(course: Course) -> None:
    """Source: numpy's corrcoef, of the rows in which both columns have a value."""
    rng = np.random.default_rng(5)
    columns = rng.normal(size=(8, 200)).cumsum(axis=1) * 10.0 ** np.arange(-3, 5)[:, None] + 1e5
    columns[rng.random(columns.shape) < 0.1] = np.nan
    columns[6] = 4.2
    columns[7, 20:] = np.nan
    values = np.diff(columns) if course is Course.STEPS else columns
    found = alike(columns, course)
    for i, j in itertools.product(range(8), repeat=2):
        both = np.isfinite(values[i]) & np.isfinite(values[j])
        if both.sum() < LEAST or 6 in (i, j):  # few rows, or one value
            assert not found[i, j] > 0.0
        elif not np.isnan(found[i, j]):
            assert found[i, j] == pytest.approx(abs(np.corrcoef(values[i][both], values[j][both])[0, 1]), abs=1e-6)
    assert not np.isnan(found[:6, :6]).any()

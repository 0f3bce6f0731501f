"""The bench sheet: one CSV row a procedure, written at the bench, checked whole before anything of it is kept."""

from __future__ import annotations

from analyser.bench.procedures import BenchRecord
from importers.refusal import Refusal
from spooldown.bench.codes import BenchRefused
from spooldown.bench.entry import Typed, procedure_named, record_of
from spooldown.problems import Problem, nearest
from spooldown.register import Register
from spooldown.sheets.rows import read_rows

COLUMNS = ("procedure", "aircraft", "of", "day", "readings", "remarks")


def is_bench_sheet(head: bytes) -> bool:
    """Whether a file starts as a bench sheet does."""
    first = head.removeprefix(b"\xef\xbb\xbf").partition(b"\n")[0]
    return b"procedure" in first and b"readings" in first


def read_bench_sheet(data: bytes, name: str, register: Register) -> list[BenchRecord]:
    """Read bench procedures; ``readings`` holds ``NAME=NUMBER`` with semicolons or blanks between.

    Raises
    ------
    Refusal
        Naming line and column of the first thing wrong; nothing of the sheet is then used.
    """
    records = []
    for row in read_rows(data, name, needed=("procedure", "readings"), nearest_column=_nearest_column):
        cells = row.cells
        words = {}
        for item in cells.get("readings", "").replace(";", " ").split():
            key, there, value = item.partition("=")
            if not there:
                raise row.refuse("readings", BenchRefused.NO_READING, found=item)
            words[key] = value.replace("|", " ").replace("_", " ") if not _is_number(value) else value
        try:
            typed = Typed(
                procedure_named(cells.get("procedure", "")), cells.get("aircraft", ""), cells.get("of", ""),
                cells.get("day", ""), words, cells.get("remarks", ""),
            )  # fmt: skip
            records.append(record_of(typed, register))
        except Problem as problem:
            raise row.refuse("", BenchRefused.NO_PROCEDURE, why=str(problem).rstrip(".")) from problem
    if not records:
        raise Refusal(name, BenchRefused.EMPTY)
    return records


def _is_number(word: str) -> bool:
    try:
        float(word.replace(",", "."))
    except ValueError:
        return False
    return True


def _nearest_column(heading: str) -> str:
    alike = nearest(heading, COLUMNS)
    return heading if heading in COLUMNS else repr(alike) if alike else f"one of {', '.join(COLUMNS)}"

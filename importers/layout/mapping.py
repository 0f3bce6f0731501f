"""A saved mapping: which column is which channel, in a small TOML a person can edit, recognised by its headings."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct, field
from msgspec.structs import replace

from analyser.core.channels import EXTRA, TIME, parse
from analyser.core.findings import Finding, say
from importers.layout import corrections
from importers.layout.codes import LayoutCode, LayoutRefused
from importers.meaning import units
from importers.meaning.columns import slug
from importers.refusal import Refusal
from importers.table.source import no_file

if TYPE_CHECKING:
    from importers.model import ColumnPlan, Plan

_KEYS = ("name", "fingerprint", "header", "columns", "units", "answers")
BOTH = " + "
"""Between the channels of a column whose cells hold two numbers: latitude and longitude."""
FITS_FROM = 0.8
"""A saved mapping is used where this share of its columns, and of the file's, are the same."""
NAMED_FROM = 0.5
"""One that a person names is used where the file has this share of its channels, whatever else it has."""


class Named(tuple[Path, ...]):
    """Saved mappings that a person named: one of them is to be used, and no other."""

    __slots__ = ()


class Mapping(Struct, frozen=True):
    """``columns``: heading → channel ('' to drop it); ``units``: heading → unit; ``answers``: settled questions.

    ``header`` is the line of headings as written, for a stream that sends none.
    """

    name: str
    fingerprint: str
    columns: dict[str, str] = field(default_factory=dict)
    answers: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    header: str = ""

    def corrected(self, said: dict[str, str]) -> Mapping:
        """The same, with what a person now says of single columns on top."""
        columns, units = corrections.taken({**self.answers, **said})
        kept = {h: u for h, u in self.units.items() if f"unit.{slug(h)}" not in said}
        return replace(self, columns={**self.columns, **columns}, units={**kept, **units})

    def check(self, headings: Sequence[str]) -> None:
        """Refuse an answer about a column that neither the file nor the mapping has.

        Raises
        ------
        Refusal
            With the nearest key.
        """
        known = {slug(h) for h in (*headings, *self.columns)}
        for key in self.answers:
            head, _, rest = key.partition(".")
            if head in ("unit", "meaning") and rest not in known and not rest.startswith("all."):
                close = difflib.get_close_matches(rest, known, 1)
                near = f"{head}.{close[0]}" if close else ""
                raise Refusal(self.name, LayoutRefused.MAPPING_ANSWER, column=key, near=near)

    def channels(self) -> list[str]:
        """Headings of columns that are a channel, neither extras nor left out."""
        return [h for h, c in self.columns.items() if c and not c.startswith(f"{EXTRA}.")] or list(self.columns)

    def against(self, headings: Sequence[str]) -> tuple[list[str], list[str]]:
        """Columns that the file has not, and headings that the mapping does not know."""
        return [h for h in self.columns if h not in headings], [h for h in headings if h and h not in self.columns]


def to_toml(plan: Plan, name: str) -> str:
    """Write a plan's mapping as TOML; columns that hold nothing stay open for a log in which they do."""
    import tomli_w

    columns: dict[str, str] = {}
    for c in plan.columns:
        if c.heading and c.channel != TIME and not c.empty:  # two channels where a cell holds two numbers
            columns[c.heading] = f"{columns[c.heading]}{BOTH}{c.channel}" if c.heading in columns else c.channel
    content: dict[str, Any] = {"name": name, "fingerprint": plan.fingerprint, "header": plan.dialect.header,
                               "columns": columns}  # fmt: skip
    _, in_units = corrections.taken(plan.answers)
    if in_units:
        content["units"] = in_units
    kept = {k: v for k, v in plan.answers.items() if not k.startswith((corrections.CHANNEL, corrections.UNIT))}
    if kept:
        content["answers"] = kept
    return tomli_w.dumps(content)


def load(path: Path) -> Mapping:
    """Read a mapping.

    Raises
    ------
    Refusal
        If it is no TOML, has a key that does not exist (the nearest is offered) or names no channel.
    """
    try:
        if found := no_file(path):
            raise OSError(str(found))
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise Refusal(str(path), LayoutRefused.MAPPING_UNREADABLE, why=str(error)) from None
    for key in content:
        if key not in _KEYS:
            near = difflib.get_close_matches(key, _KEYS, 1)
            raise Refusal(str(path), LayoutRefused.MAPPING_KEY, column=key, near=near[0] if near else "", keys=_KEYS)
    columns, answers, in_units = (content.get(k, {}) for k in ("columns", "answers", "units"))
    for key, table in (("columns", columns), ("answers", answers), ("units", in_units)):
        if not isinstance(table, dict) or not all(isinstance(v, str) for v in table.values()):
            raise Refusal(str(path), LayoutRefused.MAPPING_TABLE, column=key)
    if clock := [h for h, c in columns.items() if c == TIME]:
        answers = {**answers, "clock": clock[0]}
    columns = {h: c for h, c in columns.items() if c != TIME}
    for heading, channel in columns.items():
        halves = channel.split(BOTH) if BOTH in channel else [channel]
        if any(c and not c.startswith(f"{EXTRA}.") and parse(c) is None for c in halves):
            raise Refusal(str(path), LayoutRefused.MAPPING_CHANNEL, column=heading, channel=channel,
                          near=corrections.nearest_channel(channel))  # fmt: skip
    for heading, unit in in_units.items():
        if units.looks_up(unit) is None:
            raise Refusal(str(path), LayoutRefused.MAPPING_UNIT, column=heading, unit=unit,
                          near=units.nearest(unit))  # fmt: skip
    if unheard := corrections.unheard(answers):
        key, near = (unheard[0].values[k] for k in ("key", "near"))
        raise Refusal(str(path), LayoutRefused.MAPPING_ANSWER, column=key, near=near)
    name = str(content.get("name", path.stem))
    return Mapping(name, str(content.get("fingerprint", "")), columns, answers, in_units,
                   str(content.get("header", "")))  # fmt: skip


def recognise(paths: Sequence[Path], fingerprint: str, headings: Sequence[str]) -> tuple[Mapping | None, list[Finding]]:
    """Find the mapping made for these headings, or else the one that fits all but a few of them.

    One without a fingerprint, written by hand, fits every file that has one of its columns; one that a person
    :class:`Named` fits if half of its channels are there.

    Returns
    -------
    Mapping or None
    list of Finding
        What is new, missing or moved against it.

    Raises
    ------
    Refusal
        If one does not read, and none of the others was made for these headings.
    """
    known, refused = [], list[Refusal]()
    for path in paths:
        try:
            known.append(load(path))
        except Refusal as refusal:
            refused.append(refusal)
    # One that does not read may be the one made for these headings, where no other was.
    if refused and (isinstance(paths, Named) or all(m.fingerprint != fingerprint for m in known)):
        raise refused[0]
    exact = next((m for m in known if m.fingerprint == fingerprint or _by_hand(m, headings)), None)
    if exact:
        lacking = tuple(h for h in exact.columns if h not in headings) if not exact.fingerprint else ()
        return exact, [say(LayoutCode.MAPPING_MISSING, headings=lacking)] if lacking else []
    best, most = None, 0.0
    for one in known:
        missing, new = one.against(headings)
        there = len(one.columns) - len(missing)
        # The clock's columns are in no mapping, and up to two of them are not new.
        share = min(there / max(len(one.columns), 1), there / max(there + max(len(new) - 2, 0), 1))
        if isinstance(paths, Named):
            own = one.channels()
            share = sum(h in headings for h in own) / max(len(own), 1)
        if share >= (NAMED_FROM if isinstance(paths, Named) else FITS_FROM) and share > most:
            best, most = one, share
    if best is None:
        return None, []
    missing, new = best.against(headings)
    said: list[Finding] = []
    if missing:
        said.append(say(LayoutCode.MAPPING_MISSING, headings=tuple(missing)))
    if [h for h in best.columns if h in headings] != [h for h in headings if h in best.columns]:
        said.append(say(LayoutCode.MAPPING_MOVED))
    return best, said


def _by_hand(one: Mapping, headings: Sequence[str]) -> bool:
    return not one.fingerprint and (not one.columns or any(h in headings for h in one.columns))


def differences(mapping: Mapping, said: Sequence[Finding], proposed: Sequence[ColumnPlan]) -> Finding | None:
    """One notice: that a mapping fits all but a few columns, and which."""
    new = tuple(
        c.heading
        for c in proposed
        if c.heading and c.channel != TIME and c.heading not in mapping.columns and not c.empty
    )
    what = (*said, *([say(LayoutCode.MAPPING_NEW, headings=new)] if new else []))
    return say(LayoutCode.MAPPING_DIFFERS, mapping=mapping.name, differences=what) if what else None

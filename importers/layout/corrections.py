"""What a person says of single columns: this heading is that channel, in that unit. They travel among the answers."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Mapping, Sequence

from analyser.core.channels import EXTRA, TIME, VOCABULARY, parse
from analyser.core.findings import Finding, say
from importers.clock.codes import ClockCode
from importers.layout.codes import LayoutCode, LayoutRefused
from importers.meaning import units
from importers.meaning.columns import slug
from importers.meaning.words import fold
from importers.model import Plan
from importers.refusal import Refusal

CHANNEL, UNIT = "channel of ", "unit of "
_ANYWHERE: dict[str, tuple[str, ...]] = {
    "date_order": ("day-first", "month-first", "year-first"), "decimal": ("comma", "point"),
    "minutes": ("mm:ss", "hh:mm"), "zone": (), "member": (),
    "time_unit": ("s", "ms", "us", "min", "h", "d", "hhmmss", "10 ms", "100 ms"),
    "clock": (), "doubtful": ("as-shown", "as-extras"), "meaning.left": ("left-side", "remaining"),
    "frames": ("24", "25", "30", "48", "50", "60"),
}  # fmt: skip
"""Answers that may be given before they are asked, and what they may be; nothing where the reader of it tells."""


_COUNTED = (ClockCode.ROWS, ClockCode.ROWS_AT)


def as_answers(columns: Mapping[str, str], in_units: Mapping[str, str]) -> dict[str, str]:
    """Corrections as answers, to be kept with a flight and given again; ``time_s`` names the clock.

    >>> as_answers({"Batt": "pack.rx1.voltage_v"}, {"Batt": "mV"})
    {'channel of Batt': 'pack.rx1.voltage_v', 'unit of Batt': 'mV'}
    """
    clocks = dict([("clock", h) for h, c in columns.items() if c == TIME][:1])
    kept = {f"{CHANNEL}{h}": c for h, c in columns.items() if c != TIME}
    return clocks | kept | {f"{UNIT}{h}": u for h, u in in_units.items()}


def taken(said: Mapping[str, str]) -> tuple[dict[str, str], dict[str, str]]:
    """The corrections among the answers: heading → channel, heading → unit."""
    columns = {k.removeprefix(CHANNEL): v for k, v in said.items() if k.startswith(CHANNEL)}
    in_units = {k.removeprefix(UNIT): v for k, v in said.items() if k.startswith(UNIT)}
    return columns, in_units


def check(said: Mapping[str, str]) -> None:
    """Refuse a channel or unit that there is none of.

    Raises
    ------
    Refusal
        With the nearest there is.
    """
    columns, in_units = taken(said)
    for heading, channel in columns.items():
        if channel and not channel.startswith(f"{EXTRA}.") and parse(channel) is None:
            raise Refusal(say(LayoutCode.A_CORRECTION), LayoutRefused.UNKNOWN_CHANNEL, column=heading,
                          channel=channel, near=nearest_channel(channel))  # fmt: skip
    for heading, unit in in_units.items():
        if units.looks_up(unit) is None:
            raise Refusal(say(LayoutCode.A_CORRECTION), LayoutRefused.UNKNOWN_UNIT, column=heading, unit=unit,
                          near=units.nearest(unit))  # fmt: skip


def unfitting(said: Mapping[str, str], plans: Sequence[Plan]) -> list[Finding]:
    """One finding for each answer that no file has a use for, with the nearest that there is.

    Parameters
    ----------
    plans : sequence of Plan
        The files, looked at with these answers and without.
    """
    asked: dict[str, set[str]] = {}
    headings: dict[str, str] = {}
    for plan in plans:
        for q in plan.questions:
            asked.setdefault(q.key, set()).update(q.answers)
        names = [*plan.dialect.headings, *(c.heading for c in plan.columns)]
        headings |= {h: slug(h) for h in names if h}
        for c in plan.columns:
            asked.setdefault(f"column.{c.channel}", set()).update((c.heading, "none"))
    out: list[Finding] = []
    for key, value in said.items():
        head, _, rest = key.partition(".")
        if key.startswith((CHANNEL, UNIT)):
            prefix = CHANNEL if key.startswith(CHANNEL) else UNIT
            heading = key.removeprefix(prefix)
            if heading not in headings:
                option = "--column" if prefix == CHANNEL else "--unit"
                near = _near(heading, headings)
                out.append(say(LayoutCode.ANSWER_HEADING, option=option, heading=heading, near=near))
        elif key in asked and (head != "unit" or rest.startswith("all.") or not asked[key]):
            if asked[key] and value not in asked[key] and head != "column":
                out.append(_value(key, value, asked[key]))
        elif key == "rate" and any(isinstance(p.time.why, Finding) and p.time.why.code in _COUNTED for p in plans):
            continue
        elif key == "clock":
            most = max((len(p.dialect.headings) for p in plans), default=0)
            by_number = value.strip().isdecimal() and 0 < int(value) <= most
            if fold(value) not in map(fold, headings) and not by_number:
                near = _near(value, headings)
                out.append(say(LayoutCode.ANSWER_HEADING, option="--answer clock", heading=value, near=near))
        elif key in _ANYWHERE:
            if _ANYWHERE[key] and value not in _ANYWHERE[key]:
                out.append(_value(key, value, _ANYWHERE[key]))
        elif head == "unit" and rest in headings.values():
            if units.looks_up(value) is None and value != "fraction":
                out.append(_value(key, value, asked.get(key, ())))
        elif head == "part" or (head == "meaning" and rest in headings.values()):
            continue
        else:
            known = [*asked, *_ANYWHERE, *(f"unit.{s}" for s in headings.values())]
            near = "" if key in _NAMED_KEYS else _near(key, known)
            out.append(say(LayoutCode.ANSWER_KEY, key=key, value=value, near=near))
    return out


def unheard(said: Mapping[str, str]) -> list[Finding]:
    """One finding for each answer whose key no file could ever ask, with the nearest that one could."""
    known = [*_ANYWHERE, *_NAMED_KEYS]
    return [
        say(LayoutCode.ANSWER_KEY, key=key, value=value, near=_near(key, known))
        for key, value in said.items()
        if key not in known and not key.startswith((CHANNEL, UNIT, *_KINDS))
    ]


_NAMED_KEYS = ("rate",)
_KINDS = ("unit.", "column.", "meaning.", "part.")


def _value(key: str, value: str, answers: Collection[str]) -> Finding:
    named = tuple(sorted(answers))
    return say(LayoutCode.ANSWER_VALUE, key=key, value=value, near=_near(value, named), answers=named)


def _near(word: str, known: Collection[str]) -> str:
    folded = {k.casefold(): k for k in known}
    close = difflib.get_close_matches(word.casefold(), folded, 1, 0.5)
    return folded[close[0]] if close else ""


def nearest_channel(channel: str) -> str:
    """The channel whose name is most like another name; '' where none is."""
    parts = channel.split(".")
    instance = parts[1] if len(parts) > 2 else "main"
    digits = re.sub(r"\D", "", parts[-1]) or "1"
    names = [f"{c.subject}.{instance}.{c.quantity}" if c.has_instance else f"{c.subject}.{c.quantity}"
             for c in VOCABULARY]  # fmt: skip
    return _near(channel, [n.replace("<n>", digits) for n in names])

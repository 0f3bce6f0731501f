"""What a person says of single columns: this heading is that channel, in that unit. They travel among the answers."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Mapping, Sequence

from analyser.core.channels import EXTRA, VOCABULARY, parse
from importers.meaning import units
from importers.meaning.columns import slug
from importers.model import Plan
from importers.refusal import Refusal

CHANNEL, UNIT = "channel of ", "unit of "
_ANYWHERE: dict[str, tuple[str, ...]] = {
    "date_order": ("day-first", "month-first", "year-first"), "decimal": ("comma", "point"),
    "minutes": ("mm:ss", "hh:mm"), "time_unit": ("s", "ms", "us", "min", "h", "d", "hhmmss"), "zone": (), "member": (),
    "clock": (), "doubtful": ("as-shown", "as-extras"), "meaning.left": ("left-side", "remaining"),
}  # fmt: skip
"""Answers that may be given before they are asked, and what they may be; nothing where the reader of it tells."""


def as_answers(columns: Mapping[str, str], in_units: Mapping[str, str]) -> dict[str, str]:
    """Corrections as answers, to be kept with a flight and given again.

    >>> as_answers({"Batt": "pack.rx1.voltage_v"}, {"Batt": "mV"})
    {'channel of Batt': 'pack.rx1.voltage_v', 'unit of Batt': 'mV'}
    """
    return {f"{CHANNEL}{h}": c for h, c in columns.items()} | {f"{UNIT}{h}": u for h, u in in_units.items()}


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
            raise Refusal("a correction", column=heading, found=f"the channel {channel!r}",
                          expected="a channel such as pack.rx1.voltage_v, extra.NAME, or nothing to leave it out",
                          remedy=_offer(_nearest_channel(channel), "docs/channels.md lists them"))  # fmt: skip
    for heading, unit in in_units.items():
        if units.looks_up(unit) is None:
            raise Refusal("a correction", column=heading, found=f"the unit {unit!r}",
                          expected="a unit such as mV, km/h, fl oz or 0.1 V", remedy="write it so")  # fmt: skip


def unfitting(said: Mapping[str, str], plans: Sequence[Plan]) -> list[str]:
    """One sentence for each answer that no file has a use for, with the nearest that there is.

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
    out = []
    for key, value in said.items():
        head, _, rest = key.partition(".")
        if key.startswith((CHANNEL, UNIT)):
            prefix = CHANNEL if key.startswith(CHANNEL) else UNIT
            heading = key.removeprefix(prefix)
            if heading not in headings:
                option = "--column" if prefix == CHANNEL else "--unit"
                offer = _offer(_near(heading, headings), "look with --dry-run")
                out.append(f"{option} {heading!r}: no file has that heading; {offer}.")
        elif key in asked and (head != "unit" or not asked[key]):
            if asked[key] and value not in asked[key] and head != "column":
                out.append(_value(key, value, asked[key]))
        elif key in _ANYWHERE:
            if _ANYWHERE[key] and value not in _ANYWHERE[key]:
                out.append(_value(key, value, _ANYWHERE[key]))
        elif head == "unit" and rest in headings.values():
            if units.looks_up(value) is None and value != "fraction":
                out.append(_value(key, value, asked.get(key, ("a unit",))))
        elif head == "part" or (head in ("meaning", "duplicate") and rest in headings.values()):
            continue
        else:
            known = [*asked, *_ANYWHERE, *(f"unit.{s}" for s in headings.values())]
            out.append(
                f"--answer {key}={value}: no file asks that; {_offer(_near(key, known), 'look with --dry-run')}."
            )
    return out


def _value(key: str, value: str, answers: Collection[str]) -> str:
    named = sorted(answers)
    offer = f"did you mean {_near(value, named)!r}? " if _near(value, named) else ""
    return f"--answer {key}={value}: {offer}It may be {' or '.join(named)}."


def _near(word: str, known: Collection[str]) -> str:
    folded = {k.casefold(): k for k in known}
    close = difflib.get_close_matches(word.casefold(), folded, 1, 0.5)
    return folded[close[0]] if close else ""


def _nearest_channel(channel: str) -> str:
    parts = channel.split(".")
    instance = parts[1] if len(parts) > 2 else "main"
    digits = re.sub(r"\D", "", parts[-1]) or "1"
    names = [f"{c.subject}.{instance}.{c.quantity}" if c.has_instance else f"{c.subject}.{c.quantity}"
             for c in VOCABULARY]  # fmt: skip
    return _near(channel, [n.replace("<n>", digits) for n in names])


def _offer(near: str, otherwise: str) -> str:
    return f"did you mean {near!r}" if near else otherwise

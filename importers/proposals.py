"""One column of a file to its channel: unit, kind and conversion, with what is open asked."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from analyser.channels import EXTRA, TIME, parse
from importers import columns, mapping, sniff, units
from importers.model import ColumnPlan, Question

_ENDING = re.compile(r"(?<=[\d. ])\s*([^\W\d_]+[^\d\s]*|[%°][^\d\s]*)$")
_MAY_REMAIN = ("remaining_ml", "remaining_percent", "used_mah")


def column(
    heading: columns.Heading, values: Sequence[str], dialect: sniff.Dialect, said: Mapping[str, str],
    saved: mapping.Mapping | None, questions: list[Question],
) -> ColumnPlan:  # fmt: skip
    """What one column is taken for, going by its heading, its unit and some of its values (none: it holds none)."""
    text, own = heading.text, columns.dissect(heading.text)
    forced = saved.columns.get(text) if saved else None
    plan = ColumnPlan(text, f"{EXTRA}.{columns.slug(text)}", heading.unit_text, "", tuple(values[:3]), 1.0, "")
    if forced == "" or not values:
        return replace(plan, channel="", reason="no value" if not values else "as you said", kind="skip")
    numbers = [n for v in values if (n := _number(v, dialect)) is not None]
    flags = all(v in sniff.TRUE or v in sniff.FALSE for v in values)
    numeric = len(numbers) > 0.5 * len(values)
    unit_key = f"unit.{columns.slug(text)}"
    if own.unit and heading.unit and unit_key not in said:
        between = units.conversion(own.unit, heading.unit)
        if between is not None and not between.identity:  # of one kind, so not a letter that only looks like a unit
            ask = f"in which unit is {text!r}, beside whose values stands {heading.unit_text!r}?"
            questions.append(Question(unit_key, ask, (own.unit_text, heading.unit_text)))
    if unit_key in said and (unit := units.understand(said[unit_key])):
        heading = replace(heading, unit=unit, unit_text=said[unit_key])
        plan = replace(plan, unit_found=said[unit_key])
    if forced and (known := parse(forced)):
        factor = units.conversion(heading.unit, known.channel.unit) if heading.unit else units.Conversion()
        if factor is not None:
            kind = "bool" if known.channel.unit == "bool" else "number"
            return replace(plan, channel=forced, conversion=_said(factor, heading, known.channel.unit),
                           reason="as the mapping says", kind=kind, factor=factor)  # fmt: skip
    if not numeric and not flags:
        return replace(plan, reason="text: kept as it is", kind="text")
    low, high = (min(numbers), max(numbers)) if numeric else (None, None)
    found = columns.match(heading, low, high, flags=flags)
    if len(found.ask) > 1:
        examples = ", ".join(plan.samples)
        questions.append(Question(unit_key, f"in which unit is {text!r} (for example {examples})?", found.ask))
    if found.channel.endswith(("used_mah", "used_ml")) and len(numbers) > 2 and _falls(numbers):
        return replace(plan, confidence=0.6, reason="it falls, so it counts no use: kept as it is")
    known = parse(found.channel)
    return replace(
        plan, channel=found.channel, conversion=_said(found.conversion, heading, known.channel.unit if known else ""),
        confidence=found.confidence, reason=found.reason, factor=found.conversion,
        kind=found.kind if known else "bool" if flags and not numeric else "number",
    )  # fmt: skip


def unit_in_cells(heading: columns.Heading, values: list[str]) -> tuple[columns.Heading, list[str], str]:
    """Heading with the unit that stands behind every number ("7.4 V"), the values without it, and the unit as written."""  # noqa: E501
    endings = {m.group(1) if (m := _ENDING.search(v)) else "" for v in values}
    ending = endings.pop() if len(endings) == 1 else ""
    unit = units.understand(ending) if ending else None
    if unit is None:
        return heading, values, ""
    return replace(heading, unit=unit, unit_text=ending), [v.removesuffix(ending).rstrip() for v in values], ending


def meant(
    proposed: Sequence[ColumnPlan], said: Mapping[str, str], questions: list[Question]
) -> list[ColumnPlan]:  # fmt: skip
    """Ask what "left" means, a side or what remains, unless another column speaks of the right."""
    words = [columns.dissect(c.heading).words for c in proposed]
    sided = any("right" in w for w in words)
    out = list(proposed)
    for i, column in enumerate(proposed):
        quantity = column.channel.rpartition(".")[2]
        if "left" not in words[i] or sided or quantity not in _MAY_REMAIN or column.reason == "as the mapping says":
            continue
        key = f"meaning.{columns.slug(column.heading)}"
        if said.get(key) == "remaining":
            main = column.channel.replace(".left.", ".main.").replace("_left.", ".")
            kept = quantity.startswith("remaining")
            own = f"{EXTRA}.{columns.slug(column.heading)}"
            out[i] = replace(column, channel=main if kept else own, confidence=1.0, reason="what remains, as you said",
                             factor=column.factor if kept else units.Conversion())  # fmt: skip
        elif said.get(key) != "left-side":
            questions.append(Question(key, f"is {column.heading!r} of the left side, or what remains?",
                                      ("left-side", "remaining")))  # fmt: skip
    return out


def _said(factor: units.Conversion, heading: columns.Heading, wanted: str) -> str:
    return "" if factor.identity or not heading.unit else f"{units.written(heading.unit)} → {wanted}"


def _falls(numbers: Sequence[float]) -> bool:
    steps = np.diff(np.array(numbers))
    return numbers[-1] < numbers[0] and int((steps < 0).sum()) > 2 * int((steps > 0).sum())


def _number(text: str, dialect: sniff.Dialect) -> float | None:
    if dialect.thousands:
        text = text.replace(dialect.thousands, "")
    try:
        return float(text.replace(dialect.decimal, ".").replace("\u2212", "-").rstrip("% "))
    except ValueError:
        return None


def settle(proposed: list[ColumnPlan], said: Mapping[str, str], questions: list[Question]) -> list[ColumnPlan]:
    """Two columns for one channel are a question; extras get names of their own."""
    at: dict[str, list[int]] = {}
    for i, c in enumerate(proposed):
        if c.channel not in ("", TIME):
            at.setdefault(c.channel, []).append(i)
    out = list(proposed)
    taken = set(at)
    for channel, places in at.items():
        if len(places) == 1:
            continue
        keep = -1
        if not channel.startswith(f"{EXTRA}."):
            key = f"column.{channel}"
            names = tuple(proposed[i].heading for i in places)
            keep = next((i for i in places if proposed[i].heading == said.get(key)), -1)
            numbers = {v for k, v in said.items() if k.startswith("duplicate.")}
            keep = next((i for i in places if str(i + 1) in numbers), keep)
            if keep < 0 and said.get(key) != "none":
                questions.append(
                    Question(key, f"which column is {channel}: {' or '.join(map(repr, names))}?", (*names, "none"))
                )
        for i in places:
            if i == keep or (keep < 0 and i == places[0] and channel.startswith(f"{EXTRA}.")):
                continue
            base = f"{EXTRA}.{columns.slug(proposed[i].heading)}"
            name, n = base, 2
            while name in taken:
                name, n = f"{base}_{n}", n + 1
            taken.add(name)
            out[i] = replace(out[i], channel=name, factor=units.Conversion(), conversion="",
                             reason=f"another column stands for {channel}")  # fmt: skip
    return out

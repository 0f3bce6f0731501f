"""Antennas have names, kept as written; channels number them: by their names, the aircraft's file, or in order."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from analyser.core.aircraft import Aircraft
from analyser.core.channels import parse
from importers.meaning.words import fold
from importers.model import ColumnPlan


def number(proposed: Sequence[ColumnPlan], aircraft: Aircraft | None = None) -> list[ColumnPlan]:
    """Give every antenna of a receiver its own number, the same for all that is logged of it."""
    named: dict[str, dict[str, int]] = {}
    for c in proposed:
        known = parse(c.channel)
        if c.antenna and known and known.channel.subject == "link":
            named.setdefault(known.instance, {})[c.antenna] = 0
    for receiver, names in named.items():
        named[receiver] = _numbers(list(names), _registered(receiver, aircraft))
    return [
        replace(c, channel=re.sub(r"\.antenna\d+_", f".antenna{named[known.instance][c.antenna]}_", c.channel),
                antenna=_written(c.antenna, c.plain))
        if c.antenna and (known := parse(c.channel)) and known.instance in named else c
        for c in proposed
    ]  # fmt: skip


def called_alike(proposed: Sequence[ColumnPlan]) -> list[ColumnPlan]:
    """Call a receiver, and an engine's pack, alike in all columns.

    "Lost packets" is of the only receiver that "Receiver signal" names, "Signal A" of the one of "Receiver A quality";
    "Engine 1 battery" is the pack of "Engine 1 ECU battery used".
    """
    found: dict[str, set[str]] = {"link": set(), "pack": set()}
    for c in proposed:
        if (known := parse(c.channel)) and known.channel.subject in found:
            found[known.channel.subject].add(known.instance or "")
    links, packs = found["link"], found["pack"]
    alike = {("link", n): f"rx{n}" if n.isdigit() else f"rx_{n}" for n in links}
    if links == {"main", "rx"}:
        alike["link", "main"] = "rx"
    alike |= {("pack", n): re.sub(r"^engine(?=_|\d|$)", "ecu", n) for n in packs if n.startswith("engine")}
    alike = {(subject, n): whole for (subject, n), whole in alike.items() if whole in found[subject]}
    made = [_called(c.channel, alike) for c in proposed]
    if not alike or len(set(made)) < len({c.channel for c in proposed}):
        return list(proposed)
    return [replace(c, channel=name) if name != c.channel else c for c, name in zip(proposed, made, strict=True)]


def _called(channel: str, alike: Mapping[tuple[str, str], str]) -> str:
    subject, _, rest = channel.partition(".")
    name, _, quantity = rest.rpartition(".")
    return f"{subject}.{alike[subject, name]}.{quantity}" if (subject, name) in alike else channel


def names(columns: Sequence[ColumnPlan]) -> dict[str, str]:
    """What a flight keeps of antennas whose name is not their number: ``antenna.<receiver>.<number>`` → as written."""
    out = {}
    for c in columns:
        known = parse(c.channel)
        if c.antenna and known and known.number and c.antenna != str(known.number):
            out[f"antenna.{known.instance}.{known.number}"] = c.antenna
    return out


def _numbers(names: list[str], registered: dict[str, int]) -> dict[str, int]:
    if all(n in registered for n in names):
        return {n: registered[n] for n in names}
    if all(len(n) == 1 and n in "abcdefgh" for n in names):
        return {n: "abcdefgh".index(n) + 1 for n in names}
    # A number is kept, and A1 is 1; what else an antenna is called takes the numbers that are free, in order.
    out = {n: int(m.group(1)) for n in names if (m := re.fullmatch(r"a?([1-9]\d?)", n))}
    free = (i for i in range(1, 100) if i not in out.values())
    return {n: out[n] if n in out else next(free) for n in names}


def _registered(receiver: str, aircraft: Aircraft | None) -> dict[str, int]:
    """Names of a receiver's antennas in the layout last dated."""
    layouts = aircraft.layouts if aircraft else ()
    return {fold(a.name).replace(" ", ""): a.number for layout in layouts for a in layout.antennas
            if a.name and a.receiver == receiver}  # fmt: skip


def _written(name: str, heading: str) -> str:
    """The name in the heading's own letters."""
    at = fold(heading).find(name)
    return heading[at : at + len(name)] if at >= 0 and len(fold(heading)) == len(heading) else name

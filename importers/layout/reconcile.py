"""A log and its aircraft's file side by side: parts whose names differ are told, and settled by an answer."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from msgspec.structs import replace

from analyser.core.aircraft import Aircraft
from analyser.core.channels import parse
from analyser.core.findings import Finding, say
from importers.layout.codes import LayoutCode
from importers.layout.proposals import also
from importers.model import ColumnPlan

PART = "part."
AS_WRITTEN = "as-written"
_KINDS = {"fuel": "tank", "engine": "engine", "link": "receiver", "pack": "pack"}


class Described(Aircraft, frozen=True):
    """An aircraft with the roles of the packs that are registered with it."""

    pack_roles: tuple[str, ...] = ()


def described(aircraft: Aircraft, pack_roles: Iterable[str]) -> Described:
    """The aircraft with pack roles: names that are understood in the headings of its logs."""
    own = {name: getattr(aircraft, name) for name in Aircraft.__struct_fields__}
    return Described(**own, pack_roles=tuple(dict.fromkeys(r for r in pack_roles if r)))


def roles_of(aircraft: Aircraft) -> list[str]:
    """The roles of packs that an aircraft's file tells."""
    own = aircraft.pack_roles if isinstance(aircraft, Described) else ()
    return list(dict.fromkeys([*own, *(e.pack_role for e in aircraft.engines if e.pack_role)]))


def names_of(aircraft: Aircraft) -> dict[str, list[str]]:
    """The names that an aircraft's file gives its tanks, engines and receivers, by the subject of their channels."""
    return {
        "fuel": [t.name for t in aircraft.tanks],
        "engine": [e.name for e in aircraft.engines],
        "link": [r.name for r in aircraft.receivers],
    }


def _alike(proposed: Sequence[ColumnPlan], aircraft: Aircraft | None) -> list[ColumnPlan]:
    """Give parts the file's names where these are the same but for marks (``rx_1``), or where there is but one."""
    out = list(proposed)
    if aircraft is None or not aircraft.name:
        return out
    for subject, names in {**names_of(aircraft), "pack": roles_of(aircraft)}.items():
        logged = {k.instance for c in out if (k := parse(c.channel)) and k.channel.subject == subject}
        new = {n: f for n in logged - {*names} for f in names if _plain(n) == _plain(f) and f not in logged}
        if len(names) == 1 and logged == {"main"} and subject != "pack":
            new = {"main": names[0]}
        for i, c in enumerate(out):
            known = parse(c.channel)
            if known and known.channel.subject == subject and known.instance in new:
                name = f"{subject}.{new[known.instance]}.{c.channel.rpartition('.')[2]}"
                out[i] = replace(c, channel=name) if parse(name) else c
    return out


def _plain(name: str) -> str:
    return name.replace("_", "").casefold()


def settle(
    proposed: Sequence[ColumnPlan], aircraft: Aircraft | None, said: Mapping[str, str]
) -> tuple[list[ColumnPlan], list[str], list[Finding]]:
    """Give parts the names of the aircraft's file where that is said, and tell what still differs.

    Returns
    -------
    list of ColumnPlan
    list of str
        Parts that are not settled (``fuel.right_left``): no verdict should rest on them.
    list of Finding
        One for each, with the names side by side and how to answer.
    """
    out = _alike(proposed, aircraft)
    for i, c in enumerate(out):
        known = parse(c.channel)
        answer = said.get(f"{PART}{known.channel.subject}.{known.instance}") if known and known.instance else None
        if known and answer and answer != AS_WRITTEN:
            name = f"{known.channel.subject}.{answer}.{c.channel.rpartition('.')[2]}"
            if parse(name) and name not in {o.channel for o in out}:
                out[i] = replace(
                    c, channel=name, reason=also(c.reason, LayoutCode.PART_AS_SAID, part=known.instance, name=answer)
                )
    if aircraft is None or not aircraft.name:
        return out, [], []
    unsettled: list[str] = []
    told: list[Finding] = []
    for subject, names in {**names_of(aircraft), "pack": roles_of(aircraft)}.items():
        logged = dict.fromkeys(k.instance for c in out if (k := parse(c.channel)) and k.channel.subject == subject)
        for name in logged:
            if subject == "pack" and not name.isdecimal():
                continue  # a role that no file names is the role of a pack that is not registered
            key = f"{PART}{subject}.{name}"
            if not names or name in names or said.get(key) == AS_WRITTEN:
                continue
            unsettled.append(f"{subject}.{name}")
            free = _in_turn(name, [n for n in names if n not in logged] or names)
            told.append(
                say(LayoutCode.PART_NOT_IN_FILE, kind=_KINDS[subject], name=name, aircraft=aircraft.name,
                    names=tuple(names), key=key, answers=(*free, AS_WRITTEN))
            )  # fmt: skip
    return out, unsettled, told


def _in_turn(name: str, names: list[str]) -> list[str]:
    """The file's names, before all others the one that has the place of a part named by number."""
    at = int(name) - 1 if name.isdecimal() else 0
    return [names[at], *names[:at], *names[at + 1 :]] if 0 < at < len(names) else names

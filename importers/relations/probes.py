"""Probes whose part the rest of the log must tell: of an exhaust by letter or number, of cells, of a receiver's bus.

``EGT A`` and ``EGT B`` beside one shaft are two probes of its engine, not two engines. Cells of no name beside packs
that have one are of any of them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from msgspec.structs import replace

from analyser.core.channels import parse
from importers.layout.codes import LayoutCode
from importers.layout.proposals import also
from importers.meaning import certainty
from importers.meaning.heading import dissect
from importers.meaning.names import SIDES
from importers.model import ColumnPlan

_SUM = 0.02
"""A pack's voltage is the sum of its cells to within this share, less what its leads take."""


def of_one_shaft(proposed: Sequence[ColumnPlan]) -> list[ColumnPlan]:
    """Give temperatures whose letter or number no other column has to the log's only shaft, else only engine."""
    instances: dict[str, list[int]] = {}
    beside: set[str] = set()
    shafts: set[str] = set()
    engines: set[str] = set()
    for i, c in enumerate(proposed):
        known = parse(c.channel)
        if known is None or not known.instance:
            continue
        if (known.channel.subject, known.channel.quantity) == ("engine", "egt_c"):
            instances.setdefault(known.instance, []).append(i)
        else:
            beside.add(known.instance)
        if known.channel.quantity == "speed_rpm":
            shafts.add(known.instance)
        if known.channel.subject in ("engine", "fuel") and known.channel.quantity != "egt_c":
            engines.add(known.instance)
    if len(shafts or engines) != 1:
        return list(proposed)
    (shaft,) = shafts or engines
    strange = {x: at for x, at in instances.items()
               if x not in beside and (len(x) == 1 or (x in SIDES and shafts and shaft not in SIDES))}  # fmt: skip
    out = list(proposed)
    for name, at in strange.items():
        for i in at:
            c = proposed[i]
            if c.settled or not c.evidence:
                continue
            alone = len(instances) == 1
            channel = c.channel if name in SIDES else f"engine.{shaft}.egt_c"  # of two engines one shaft may be logged
            sure = c.confidence if alone and channel != c.channel else min(c.confidence, certainty.ASK_BELOW - 0.01)
            out[i] = replace(c, channel=channel, confidence=sure, reason=also(c.reason, LayoutCode.OF_THE_SHAFT))
    return out


def of_some_pack(proposed: Sequence[ColumnPlan], middle: Callable[[ColumnPlan], float]) -> list[ColumnPlan]:
    """Give cells that name no pack to the one whose voltage is their sum, where every voltage of a pack names one.

    Whose they are is doubted where that is none or several. ``middle`` gives a column's median in canonical units, NaN
    where it has none.
    """
    packs: dict[str, int] = {}
    celled: set[str] = set()
    lone: list[int] = []
    for i, c in enumerate(proposed):
        known = parse(c.channel)
        if known is None or known.channel.subject != "pack":
            continue
        if known.channel.quantity == "voltage_v":
            packs.setdefault(known.instance or "main", i)
        elif known.channel.quantity == "cell<n>_v" and known.instance != "main":
            celled.add(known.instance or "")
        elif known.channel.quantity == "cell<n>_v" and c.evidence and not c.settled:
            lone.append(i)
    if not lone or not packs or "main" in packs:
        return list(proposed)
    whole = sum(middle(proposed[i]) for i in lone)
    fits = [name for name, i in packs.items() if abs(middle(proposed[i]) - whole) < _SUM * whole]
    out = list(proposed)
    for i in lone:
        c = proposed[i]
        if len(lone) > 1 and len(fits) == 1 and fits[0] not in celled:
            channel = c.channel.replace("pack.main.", f"pack.{fits[0]}.", 1)
            out[i] = replace(c, channel=channel, reason=also(c.reason, LayoutCode.MAKE_UP_THE_PACK))
            continue
        evidence = {**c.evidence, "unsure_name": 1.0}
        sure = round(certainty.weights()(evidence), 3)
        out[i] = replace(c, evidence=evidence, confidence=sure, reason=also(c.reason, LayoutCode.MAY_BE_OF_ANOTHER))
    return out


def of_the_bus(proposed: Sequence[ColumnPlan]) -> list[ColumnPlan]:
    """Take a receiver's voltage for its bus where another column is the voltage of its pack, by that word.

    ``Empfängerspannung`` beside ``Empfängerakku``: what arrives at the receiver, and what its pack gives.
    """
    by: dict[str, list[int]] = {}
    for i, c in enumerate(proposed):
        known = parse(c.channel)
        if known and (known.channel.subject, known.channel.quantity) == ("pack", "voltage_v") and not c.settled:
            by.setdefault(c.channel, []).append(i)
    out = list(proposed)
    for channel, some in by.items():
        said = {i: set(dissect(proposed[i].plain).ideas) for i in some}
        plain = [i for i in some if {"rx", "voltage"} <= said[i] and "pack" not in said[i]]
        if len(some) == 2 and len(plain) == 1 and channel.replace("pack.", "bus.") not in {c.channel for c in proposed}:
            c = proposed[plain[0]]
            bus = channel.replace("pack.", "bus.", 1)
            out[plain[0]] = replace(c, channel=bus, reason=also(c.reason, LayoutCode.BESIDE_THE_PACK))
    return out

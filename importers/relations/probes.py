"""Probes whose part the rest of the log must tell: of an exhaust by letter or number, and of the cells of a pack.

``EGT A`` and ``EGT B`` beside one shaft are two probes of its engine, not two engines. Cells of no name beside packs
that have one are of any of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from analyser.core.channels import parse
from importers.layout.codes import LayoutCode
from importers.layout.proposals import also
from importers.meaning import certainty
from importers.meaning.names import SIDES
from importers.model import ColumnPlan


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


def of_some_pack(proposed: Sequence[ColumnPlan]) -> list[ColumnPlan]:
    """Doubt whose cells they are that name no pack, where every voltage of a pack names one."""
    packs = {
        known.instance for c in proposed
        if (known := parse(c.channel)) and (known.channel.subject, known.channel.quantity) == ("pack", "voltage_v")
    }  # fmt: skip
    out = list(proposed)
    for i, c in enumerate(proposed):
        known = parse(c.channel)
        lone = known and (known.instance, known.channel.quantity) == ("main", "cell<n>_v")
        if lone and packs and "main" not in packs and c.evidence and not c.settled:
            evidence = {**c.evidence, "unsure_name": 1.0}
            sure = round(certainty.weights()(evidence), 3)
            more = also(c.reason, LayoutCode.MAY_BE_OF_ANOTHER)
            out[i] = replace(c, evidence=evidence, confidence=sure, reason=more)
    return out

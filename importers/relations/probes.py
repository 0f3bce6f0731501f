"""Probes of one exhaust: letters and numbers beside temperatures of an engine that no other column knows.

``EGT A`` and ``EGT B`` beside one shaft are two probes of its engine, not two engines.
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
    """Give temperatures whose letter or number no other column has to the only shaft of the log."""
    instances: dict[str, list[int]] = {}
    beside = set()
    shafts = set()
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
    if len(shafts) != 1:
        return list(proposed)
    (shaft,) = shafts
    strange = {x: at for x, at in instances.items()
               if x not in beside and (len(x) == 1 or (x in SIDES and shaft not in SIDES))}  # fmt: skip
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

"""Columns brought before the laws: whose values speak, and what each law says of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property

import numpy as np
from msgspec import Struct

from analyser.core.channels import Channel, ChannelName
from importers.meaning import certainty, witness
from importers.meaning.units import Conversion
from importers.meaning.witness import Numbers, Verdict
from importers.model import ColumnPlan
from importers.relations.laws import LAWS, Law
from importers.relations.opinion import FloatArray, Opinion


class Series(Struct, frozen=True, dict=True):
    """One column's place among the proposals, what it is taken for, and its values as written, NaN where empty."""

    at: int
    plan: ColumnPlan
    name: ChannelName
    raw: FloatArray

    @cached_property
    def values(self) -> FloatArray:
        """In canonical units."""
        return self.read(self.raw)

    @property
    def channel(self) -> Channel:
        """The channel it is taken for."""
        return self.name.channel

    @property
    def instance(self) -> str:
        """The name of its part, '' where there is none."""
        return self.name.instance or ""

    @property
    def doubtful(self) -> bool:
        """Whether its heading alone would have it asked about."""
        return self.plan.confidence < certainty.ASK_BELOW

    @property
    def refuted(self) -> bool:
        """Whether its own values contradict its heading."""
        return bool(self.plan.evidence.get("contradicted"))

    def read(self, raw: FloatArray) -> FloatArray:
        """Values as written, were they under this heading."""
        factor = self.plan.factor
        return np.asarray(raw * (factor.num.numerator / factor.num.denominator) + float(factor.offset))

    def numbers(self) -> Numbers | None:
        """What matters of the values as written."""
        return witness.numbers(self.raw[np.isfinite(self.raw)])

    def verdict(self, seen: Numbers | None) -> Verdict:
        """What some values, as written, say of this heading."""
        said = witness.testify(self.channel, seen, self.plan.factor)
        if said is not Verdict.FITS and self.plan.evidence.get("unit_by_values"):
            return witness.testify(self.channel, seen, Conversion())  # other values would have chosen another unit
        return said

    def odd(self) -> bool:
        """Whether the values alone are unusual for the channel, or its heading is doubtful."""
        seen = witness.numbers(self.values[np.isfinite(self.values)])
        return self.doubtful or witness.testify(self.channel, seen, Conversion()) not in (Verdict.FITS, Verdict.SILENT)


class Hearing(Struct, frozen=True):
    """Columns before a law, and its opinions; none where it has nothing to say."""

    law: Law
    series: tuple[Series, ...]
    opinions: tuple[Opinion, ...]

    @property
    def speaking(self) -> Iterator[Series]:
        """Those of whom nothing is believed once their own values refute them."""
        return (s for i, s in enumerate(self.series) if i not in self.law.whatever_unit)


def heard(every: Sequence[Series], seconds: FloatArray | None) -> list[Hearing]:
    """Bring columns before every law that ties them to each other."""
    by: dict[str, dict[str, list[Series]]] = {}
    for s in every:
        name = "*." if s.channel.has_instance else ""
        by.setdefault(f"{s.channel.subject}.{name}{s.channel.quantity}", {}).setdefault(s.instance, []).append(s)
    out = []
    for law in LAWS:
        for series in _bound(law, by):
            out.append(Hearing(law, series, law.hear([s.values for s in series], seconds)))
    return out


def _bound(law: Law, by: Mapping[str, Mapping[str, list[Series]]]) -> Iterator[tuple[Series, ...]]:
    """The columns of a law, once for each name that its roles have in common."""
    if not all(role in by for role in law.roles):
        return
    starred = [role for role in law.roles if "*" in role]
    for name in by[starred[0]] if starred else [""]:
        found = [by[role].get(name if "*" in role else "", []) for role in law.roles]
        if all(found):
            yield tuple(s for role, some in zip(law.roles, found, strict=True)
                        for s in (some if "<n>" in role else some[:1]))  # fmt: skip

"""Counting how often intervals hold what they say, with the sampling error of the count itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from scipy import stats


@dataclass
class Row:
    """One figure under one simulator. ``groups`` maps a season (or flight) to its hits and looks."""

    name: str
    simulator: str
    promised: float = 0.95
    groups: dict[int, list[int]] = field(default_factory=dict)
    below: int = 0
    above: int = 0
    half_widths: list[float] = field(default_factory=list)
    errors: list[float] = field(default_factory=list)

    def add(self, group: int, value: float, low: float, high: float, truth: float) -> None:
        """Count one interval; its numbers are kept relative to the truth's size."""
        # The last bit is no miss: a figure without scatter may sit on its own end.
        slack = 1e-9 * max(abs(truth), abs(value), 1.0)
        hit = low - slack <= truth <= high + slack
        self._count(group, hit)
        self.below += truth < low - slack
        self.above += truth > high + slack
        self.half_widths.append((high - low) / 2.0)
        self.errors.append(value - truth)

    def add_outcome(self, group: int, kept: bool) -> None:
        """Count one promise kept or not."""
        self._count(group, kept)

    def _count(self, group: int, hit: bool) -> None:
        counted = self.groups.setdefault(group, [0, 0])
        counted[0] += int(hit)
        counted[1] += 1

    @property
    def n(self) -> int:
        return sum(g[1] for g in self.groups.values())

    @property
    def hits(self) -> int:
        return sum(g[0] for g in self.groups.values())

    @property
    def kept(self) -> float:
        return self.hits / max(self.n, 1)

    @property
    def independent(self) -> float:
        """How many independent looks the count is worth: looks of one season resemble each other (Kish 1965)."""
        hit, looks = np.array(list(self.groups.values()), float).T
        if looks.size < 2 or looks.max() <= 1:
            return float(looks.sum() if looks.max() <= 1 else looks.size)
        p = min(max(self.kept, 0.5 / self.n), 1.0 - 0.5 / self.n)
        variance = float(((hit - p * looks) ** 2).sum()) / self.n**2 * looks.size / (looks.size - 1)
        return float(np.clip(p * (1.0 - p) / max(variance, 1e-12), looks.size, self.n))

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval of the share kept (Clopper and Pearson 1934), for the independent looks."""
        n = self.independent
        k = self.kept * n
        low = float(stats.beta.ppf(0.025, k, n - k + 1.0)) if k > 0 else 0.0
        high = float(stats.beta.ppf(0.975, k + 1.0, n - k)) if k < n else 1.0
        return low, high

    @property
    def typical(self) -> tuple[str, str]:
        """Median half width and median distance from the truth, as printed; empty for mere outcomes."""
        if not self.half_widths:
            return "", ""
        return f"{np.median(self.half_widths):.3g}", f"{np.median(np.abs(self.errors)):.3g}"

    @property
    def verdict(self) -> str:
        """``short`` where the promise is surely broken, ``wide`` where surely more is kept than promised."""
        low, high = self.interval
        if high < self.promised:
            return "short"
        return "wide" if low > self.promised + 0.01 else "holds"


class Tally:
    """Rows by figure and simulator, and the figures with an interval whose truth no simulator knows."""

    def __init__(self) -> None:
        self.rows: dict[tuple[str, str], Row] = {}
        self.untold: dict[str, int] = {}
        self.silent: dict[str, int] = {}

    def row(self, name: str, simulator: str, promised: float = 0.95) -> Row:
        """The row of that figure, made at its first look."""
        return self.rows.setdefault((name, simulator), Row(name, simulator, promised))

    def __iter__(self) -> Iterator[Row]:
        return iter(sorted((r for r in self.rows.values() if r.n), key=lambda r: (r.name, r.simulator)))

    def markdown(self) -> str:
        """The table as it stands in the documents."""
        head = ("figure", "simulator", "n", "kept", "promised", "95 % of kept", "truth below / above", "typical ±",
                "typical miss", "")  # fmt: skip
        rule = ("---", "---", *(["---:"] * 7), "---")
        lines = [f"| {' | '.join(cells)} |" for cells in (head, rule)]
        for r in self:
            low, high = r.interval
            sides = f"{r.below} / {r.above}" if r.half_widths else ""
            half, miss = r.typical
            lines.append(
                f"| {r.name} | {r.simulator} | {r.n} | {100 * r.kept:.0f} % | {100 * r.promised:.0f} % "
                f"| {100 * low:.0f} to {100 * high:.0f} % | {sides} | {half} | {miss} | {r.verdict} |"
            )
        return "\n".join(lines)

    def gaps(self) -> str:
        """Figures that show an interval but have no truth here, one line each."""
        judged = {row.name for row in self}
        return "\n".join(f"- {name}" for name in sorted(set(self.untold) - judged))

"""Counting how often intervals hold what they say, with the sampling error of the count itself."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from msgspec import Struct, field
from scipy import stats

FAR = 5.0
"""A truth further outside than so many half widths counts as so far."""
SPLIT = (", noted", ", never noted")
"""Ends of names of figures that are counted by themselves where the owner noted volumes and charges."""


def without_split(name: str) -> str:
    """A row's figure, whether noted or not."""
    return name.removesuffix(SPLIT[0]).removesuffix(SPLIT[1])


class Row(Struct):
    """One figure under one simulator. ``groups`` maps a season (or flight) to its hits and looks."""

    name: str
    simulator: str
    promised: float = 0.95
    groups: dict[int, list[int]] = field(default_factory=dict)
    below: int = 0
    above: int = 0
    half_widths: list[float] = field(default_factory=list)
    errors: list[float] = field(default_factory=list)
    reached: dict[int, list[float]] = field(default_factory=dict)

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
        side = high - value if truth > value else low - value
        share = (truth - value) / abs(side) if abs(side) > slack else 0.0 if hit else np.sign(truth - value) * FAR
        self.reached.setdefault(group, []).append(float(np.clip(share, -FAR, FAR)))

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
        """How many independent looks the count is worth: looks of one season resemble each other (Kish 1965).

        Hits tell how alike looks are only where there are misses; how far the truth lay towards the interval's end
        tells it always, by its correlation within groups. The smaller of the two counts.
        """
        return min(self._by_hits(), self.n / self._alike())

    def _alike(self) -> float:
        """Design effect of looks that share errors: analysis of variance of :attr:`reached` (Searle et al. 1992, 3)."""
        looks = np.array([len(v) for v in self.reached.values()], float)
        if looks.size < 3 or looks.max() <= 1:
            return 1.0
        whole, groups = looks.sum(), looks.size
        means = np.array([np.mean(v) for v in self.reached.values()])
        grand = float(looks @ means) / whole
        between = float(looks @ (means - grand) ** 2) / (groups - 1)
        inside = sum(float(((np.array(v) - m) ** 2).sum()) for v, m in zip(self.reached.values(), means, strict=True))
        within = inside / max(whole - groups, 1.0)
        usual = (whole - float(looks @ looks) / whole) / (groups - 1)
        part = (between - within) / usual
        share = float(np.clip(part / max(part + within, 1e-12), 0.0, 1.0))
        return 1.0 + (float(looks @ looks) / whole - 1.0) * share

    def _by_hits(self) -> float:
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
    def enough(self) -> float | None:
        """What share of its width would have held the truth as often as promised; ``None`` of outcomes."""
        every = [abs(x) for group in self.reached.values() for x in group]
        return float(np.quantile(every, self.promised)) if every else None

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
        self.stated: dict[tuple[str, str], Row] = {}
        self.untold: dict[str, int] = {}
        self.silent: dict[str, int] = {}
        self.unpromised: dict[str, list[int]] = {}

    def row(self, name: str, simulator: str, promised: float = 0.95) -> Row:
        """The row of that figure, made at its first look."""
        return self.rows.setdefault((name, simulator), Row(name, simulator, promised))

    def as_stated(self, name: str, simulator: str, promised: float = 0.95) -> Row:
        """The same figure where every sensor is as far off as is stated."""
        return self.stated.setdefault((name, simulator), Row(name, simulator, promised))

    def leave_out(self, name: str, kept: bool) -> None:
        """Count an outcome that the figure's words leave out of its promise: shown beside the table, not judged."""
        counted = self.unpromised.setdefault(name, [0, 0])
        counted[0] += int(kept)
        counted[1] += 1

    def reason(self, row: Row) -> str:
        """Why a wide row is wide: ``prior``, ``elsewhere`` (another simulator needs it) or ``unexplained``; else ''."""
        if row.verdict != "wide":
            return ""
        stated = self.stated.get((row.name, row.simulator))
        if stated is not None and stated.verdict != "wide":
            return "prior"
        others = [r for r in self if r.name == row.name and r.simulator != row.simulator]
        if any(r.verdict != "wide" for r in others):
            return "elsewhere"
        return "unexplained"

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
                f"| {100 * low:.0f} to {100 * high:.0f} % | {sides} | {half} | {miss} | {r.verdict} {self.reason(r)} |"
            )
        return "\n".join(lines)

    def gaps(self) -> str:
        """Figures that show an interval but have no truth here, one line each."""
        judged = {without_split(row.name) for row in self}
        return "\n".join(f"- {name}" for name in sorted(set(self.untold) - judged))

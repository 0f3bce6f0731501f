"""How often the programme's promises are kept on made-up histories; writes its tables into ``docs/programme.md``.

``python -m tests.coverage.programme`` takes a minute or two. Histories are first-order autoregressions of normal or of
heavy-tailed noise (Student's t, three degrees): other rules than those of the analysis, which never sees them.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from analyser.programme.remedies import shift
from analyser.programme.service import Used, Uses, forecast
from analyser.programme.steps import clearest, date_interval

PAGE = Path(__file__).resolve().parents[2] / "docs" / "programme.md"
BEGIN, END = "<!-- the programme's tables begin -->", "<!-- the programme's tables end -->"
KINDS = ((0.0, False), (0.0, True), (0.3, False), (0.6, False), (0.8, False))
HEADS = ("independent", "heavy tails", "likeness 0.3", "likeness 0.6", "likeness 0.8")


def history(rng: np.random.Generator, n: int, rho: float, heavy: bool) -> NDArray[np.float64]:
    """An unchanged history of unit variance."""
    noise = rng.standard_t(3, n + 60) / np.sqrt(3) if heavy else rng.normal(size=n + 60)
    return np.asarray(signal.lfilter([1.0], [1.0, -rho], noise)[60:] * np.sqrt(1 - rho**2))


def false_steps(reps: int) -> list[str]:
    """How often an unchanged history shows a step, at stated chances of 5, 1 and 0.2 %."""
    rng = np.random.default_rng(1)
    out = [f"| flights | {' | '.join(HEADS)} |", f"|---:|{'---|' * len(HEADS)}"]
    for n, many in ((16, reps // 4), (30, reps // 4), (60, reps), (100, reps), (200, reps)):
        cells = []
        for rho, heavy in KINDS:
            p = np.array([(clearest(history(rng, n, rho, heavy)) or (0, 1.0))[1] for _ in range(many)])
            cells.append(" / ".join(f"{100 * float((p <= a).mean()):.1f}" for a in (0.05, 0.01, 0.002)))
        out.append(f"| {n} | {' | '.join(cells)} |")
    return out


def found_steps(reps: int) -> list[str]:
    """How often a planted step is found at a chance of 0.2 %, and how often its date's interval holds the truth."""
    rng = np.random.default_rng(2)
    out = [f"| flights, step | {' | '.join(HEADS[:4])} |", f"|---|{'---|' * 4}"]
    for n, at, size in ((24, 12, 4.0), (60, 30, 2.0), (120, 60, 1.0), (200, 150, 1.5)):
        cells = []
        for rho, heavy in KINDS[:4]:
            found = held = 0
            many = reps // 4 if n <= 40 else reps
            for _ in range(many):
                values = history(rng, n, rho, heavy)
                values[at:] += size
                step = clearest(values)
                if step and step[1] <= 0.002:
                    found += 1
                    low, high = date_interval(values, step[0])
                    held += low <= at <= high
            cells.append(f"{100 * found / many:.0f} found, {100 * held / max(found, 1):.0f} dated")
        out.append(f"| {n}, {size:g} σ from flight {at + 1} | {' | '.join(cells)} |")
    return out


def before_after(reps: int) -> list[str]:
    """How often the 95 % interval of a remedy's change holds the truth."""
    rng = np.random.default_rng(3)
    out = [f"| before, after | {' | '.join(HEADS[:4])} |", f"|---|{'---:|' * 4}"]
    for n, m in ((4, 4), (12, 6), (20, 20), (30, 10)):
        cells = []
        for rho, heavy in KINDS[:4]:
            hits = 0
            for _ in range(reps):
                values = history(rng, n + m, rho, heavy)
                change, half = shift(values[:n], values[n:])
                hits += abs(change) <= half
            cells.append(f"{100 * hits / reps:.1f} %")
        out.append(f"| {n}, {m} | {' | '.join(cells)} |")
    return out


def forecasts(reps: int) -> list[str]:
    """How often the 95 % interval of a service date holds the day, by how often one flies and how much is left."""
    rng = np.random.default_rng(4)
    out = ["| flying days a year | hours left | held |", "|---:|---:|---:|"]
    today = date(2031, 7, 1)
    for days, left in ((20, 3.0), (40, 3.0), (100, 10.0)):
        hits = told = 0
        for _ in range(reps):
            flew = np.flatnonzero(rng.random(3000) < days / 365.0)
            hours = rng.gamma(3.0, 0.25, flew.size)
            past = flew < 365
            uses = Uses.of((today - timedelta(days=365 - int(d)), Used(float(h)))
                           for d, h in zip(flew[past], hours[past], strict=True))  # fmt: skip
            found, later = forecast(left, uses, "hours", today), np.cumsum(hours[~past])
            if found is None or not (later >= left).any():
                continue
            told += 1
            when = int(flew[~past][int((later >= left).argmax())]) - 365
            hits += found[1] <= when + 1 and when <= found[2]
        out.append(f"| {days} | {left:g} | {100 * hits / max(told, 1):.1f} % of {told} |")
    return out


def tables(reps: int) -> str:
    """All tables as text."""
    return "\n".join(
        [
            "False steps in unchanged histories, percent at stated chances of 5, 1 and 0.2 %:", "",
            *false_steps(reps), "",
            "Planted steps found at a chance of 0.2 %, and how many of these dates hold the truth, percent:", "",
            *found_steps(reps), "",
            "Before and after: how often the 95 % interval of the change holds the truth:", "",
            *before_after(2 * reps), "",
            "Service dates: how often the 95 % interval holds the day:", "",
            *forecasts(reps),
        ]
    )  # fmt: skip


def write(reps: int = 1000) -> None:
    """Put fresh tables into the page."""
    page = PAGE.read_text("utf-8")
    before, _, rest = page.partition(BEGIN)
    PAGE.write_text(f"{before}{BEGIN}\n\n{tables(reps)}\n\n{END}{rest.partition(END)[2]}", "utf-8")


if __name__ == "__main__":
    write()

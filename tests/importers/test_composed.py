"""Composed headings: any name of a phrasebook, in any style, is understood or asked, and never taken for another."""

from collections import Counter

from tests.importers.composed.compose import LANGUAGES, STYLES, compose
from tests.importers.hands.score import line, marks

ASKED_AT_MOST = 0.03
"""Share of ordinary headings that may stay open: the aim for ordinary exports."""


def test_composed_headings_are_understood() -> None:
    """One log in each style, the languages in turn; which names they draw is not that of any log looked at."""
    every = [m for n in range(len(STYLES)) for m in marks(compose(LANGUAGES[n % len(LANGUAGES)], n, seed=101))]
    counts = Counter("open" if m.outcome != "right" else "right" for m in every)
    assert [line(m) for m in every if m.outcome == "wrong"] == []
    assert len(every) > 400
    fair = sum(m.outcome == "asked" and m.right for m in every)
    assert counts["open"] - fair <= ASKED_AT_MOST * len(every), [line(m) for m in every if m.outcome != "right"]

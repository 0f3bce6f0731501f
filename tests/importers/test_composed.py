"""Headings composed of phrasebooks, and logs of many habits: understood or asked, and never taken for another."""

from collections import Counter

from tests.importers.composed.compose import LANGUAGES, STYLES, compose
from tests.importers.habits.pool import pool
from tests.importers.hands.score import Mark, line, marks

ASKED_AT_MOST = 0.03
"""Share of ordinary headings that may stay open: the aim for ordinary exports."""


def _hold(every: list[Mark]) -> None:
    """No mistake, and hardly a column left open that the log settles."""
    counts = Counter("open" if m.outcome != "right" else "right" for m in every)
    assert [line(m) for m in every if m.outcome == "wrong"] == []
    fair = sum(m.outcome == "asked" and m.right for m in every)
    assert counts["open"] - fair <= ASKED_AT_MOST * len(every), [line(m) for m in every if m.outcome != "right"]


def test_composed_headings_are_understood() -> None:
    """One log in each style, the languages in turn; no log of this draw was looked at before."""
    every = [m for n in range(len(STYLES)) for m in marks(compose(LANGUAGES[n % len(LANGUAGES)], n, seed=101))]
    assert len(every) > 400
    _hold(every)


def test_logs_of_many_habits_are_understood() -> None:
    """Prose, codes, tags, paths, symbols, numbers in front: a third of the logs, all by ``habits.pool``."""
    every = [m for log in pool(every=3) for m in marks(log)]
    assert len(every) > 350
    _hold(every)

"""The importer on hands it was not fitted to: right, or asked; seldom a needless question; a certainty that holds.

The truth is that of ``tests/importers/hands`` (held and sealed) and of the strangers, written by other rules than the
importer's. Each third or fourth log of each hand; ``python -m tests.importers.hands.score all`` measures the whole.
"""

from __future__ import annotations

from functools import lru_cache

import pytest
from scipy.stats import binomtest

from tests.importers.hands.logs import logs
from tests.importers.hands.mutate import changed, plain
from tests.importers.hands.score import Mark, line, marks, once, reliability


@lru_cache
def measured() -> tuple[Mark, ...]:
    some = logs("held")[::3] + logs("sealed")[::3] + logs("strangers")[::4]
    return tuple(m for log in some for m in marks(log))


def share(outcome: str, kind: str) -> tuple[int, int, list[Mark]]:
    of_kind = [m for m in measured() if m.kind == kind and m.heading != "clock"]
    bad = [m for m in of_kind if m.outcome == outcome]
    return len(bad), len(of_kind), bad


def told(some: list[Mark]) -> str:
    return "\n" + "\n".join(map(line, some))


def test_the_sample_is_large_enough_to_tell():
    assert share("wrong", "ordinary")[1] > 500
    assert share("wrong", "trap")[1] > 350
    assert sum(m.outcome == "right" for m in measured()) > 600


def test_an_ordinary_column_is_never_wrong_and_sure():
    count, _, bad = share("wrong", "ordinary")
    assert count == 0, told(bad)


def test_a_trap_seldom_catches():
    count, of, bad = share("wrong", "trap")
    assert count <= 0.02 * of, told(bad)


def test_questions_are_seldom_needless():
    count, of, bad = share("needless", "ordinary")
    assert count <= 0.03 * of, told(bad)


def test_no_certainty_shown_is_more_than_holds():
    """Each bin of certainty: the rightness met is not below what was shown, to within 95 % (Clopper and Pearson 1934).

    Each heading counts once, as in its first log: a hand's other logs are no independent trials of it. A doubt that is
    asked about shows its certainty too.
    """
    headings = [m for m in once(measured()) if m.heading != "clock"]
    assert len(headings) > 300
    for low, high, shown, right, mean, _, above in reliability(headings):
        assert mean <= above, f"{low} to {high}: {right} of {shown} right, {mean:.1%} shown"


def test_the_check_of_certainty_sees_too_much_of_it():
    assert binomtest(80, 100).proportion_ci(0.95, method="exact").high < 0.95


@pytest.mark.parametrize("kind", ["renamed", "reordered", "dropped"])
def test_one_change_misleads_nobody(kind):
    """Renamed, swapped, reordered, dropped, rescaled: right, asked, kept as no channel or refused."""
    some = [log for log in logs("open") if plain(log)][::9]
    done = list(changed(some, (kind,)))
    assert len(done) >= 8
    bad = [m for _, _, wrong in done for m in wrong]
    assert not bad, told(bad)

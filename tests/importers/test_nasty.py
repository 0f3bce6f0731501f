"""Nasty logs seldom catch: limits, other systems, sums, counters, swapped headings, wrong units, numbers for nothing.

The 110 logs and their truth were written by rules of their own, before the importer's code was looked at
(``tests/importers/nasty``); ``python -m tests.importers.nasty.logs`` prints how each column comes out.
"""

from collections import Counter

import pytest

from tests.importers.hands.score import line
from tests.importers.nasty.logs import nasty, score


@pytest.fixture(scope="module", params=["open", "sealed"])
def scored(request):
    return score(request.param)


def of(scored, kind):
    some = [m for m in scored if m.kind == kind]
    return Counter(m.outcome for m in some), len(some), [line(m) for m in some if m.outcome == "wrong"]


def test_there_are_enough_of_them():
    logs = nasty("open") + nasty("sealed")
    assert len(logs) >= 100
    assert {log.language for log in logs} == {"en", "de", "fr", "es", "it"}
    assert sum(bool(c.trap) for log in logs for c in log.columns) > 500
    assert len({c.trap for log in logs for c in log.columns}) > 20


def test_a_trap_catches_one_in_a_hundred_at_most(scored):
    count, columns, bad = of(scored, "trap")
    assert count["wrong"] <= 0.01 * columns, bad
    assert count["right"] > 0.5 * columns  # and not by asking about everything


def test_what_stands_beside_a_trap_is_read(scored):
    count, columns, bad = of(scored, "ordinary")
    assert not bad
    assert count["needless"] <= 0.04 * columns
    assert count["right"] > 0.9 * columns

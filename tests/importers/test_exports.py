"""Ordinary exports of 42 hands in five languages: never wrong and sure, seldom asked or left alone needlessly.

The first twenty and their flight were written before their author had read the importer, the others before it had been
tried on them. One log of each hand is read; `python -m tests.importers.exports.score open|sealed|third|fourth --wrong`
measures all.
"""

from __future__ import annotations

from functools import lru_cache

from tests.importers.exports.pool import HALVES, truth
from tests.importers.exports.rules import log_of
from tests.importers.hands.score import Mark, line, marks


@lru_cache
def measured() -> tuple[Mark, ...]:
    some = [truth(log_of(hand, 2), hand, half) for half, hands in HALVES.items() for hand in hands]
    return tuple(m for log in some for m in marks(log) if m.heading != "clock")


def told(some: list[Mark]) -> str:
    return "\n" + "\n".join(map(line, some))


def of(outcome: str) -> list[Mark]:
    return [m for m in measured() if m.outcome == outcome]


def test_the_sample_speaks_five_languages_of_many_hands():
    assert {m.log.language for m in measured()} == {"en", "de", "fr", "es", "it"}
    assert len({m.log.hand for m in measured()}) == sum(map(len, HALVES.values())) >= 42
    assert len(measured()) > 800


def test_no_column_is_wrong_and_sure():
    assert not of("wrong"), told(of("wrong"))


def test_what_a_person_knows_is_seldom_asked_or_left_alone():
    bad = of("needless") + of("missed") + of("refused")
    assert len(bad) <= 0.03 * len(measured()), told(bad)


def test_truth_has_values_in_the_range_of_its_channel():
    from analyser.core.channels import VOCABULARY

    ranges = {(c.subject, c.quantity): (c.low, c.high) for c in VOCABULARY}
    for m in measured()[::40]:
        for column in m.log.columns:
            for a in column.accepts:
                quantity = f"antenna<n>_{a.quantity}" if a.antenna else a.quantity
                quantity = "cell<n>_v" if quantity.startswith("cell") else quantity
                low, high = ranges[a.subject, quantity]
                assert low <= a.values.min() <= a.values.max() <= high, (m.log.name, column.heading)

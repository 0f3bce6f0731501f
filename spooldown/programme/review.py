"""What the programme says of an aircraft: snags and how their remedies fared, steps on offer, what is unusual."""

from __future__ import annotations

from collections.abc import Sequence

from analyser.programme.snags import Snag, SnagState, fare, offered
from analyser.programme.steps import StepFound, find_steps
from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.programme.flights import Followed, follow
from spooldown.programme.snags import all_snags, steps_put_aside


def states_of(book: Logbook, snags: Sequence[Snag], followed: Sequence[Followed] = ()) -> list[SnagState]:
    """Judge every remedy of these snags, in their order; only flights of aircraft with remedies are read.

    Parameters
    ----------
    followed : sequence of Followed
        Aircraft whose flights are at hand.
    """
    at_hand = {one.aircraft: one for one in followed}
    wanted = {s.aircraft for s in snags if s.remedies and s.measure} - set(at_hand)
    if wanted:
        known = register.load(book)
        at_hand |= {name: follow(book, known, name) for name in wanted}
    return [
        fare(s, at_hand[s.aircraft].past, at_hand[s.aircraft].flown) if s.aircraft in at_hand else fare(s, {}, ())
        for s in snags
    ]


def offers_of(book: Logbook, followed: Followed) -> tuple[StepFound, ...]:
    """Steps that no snag or remedy explains and nobody put aside, the latest first."""
    steps = find_steps(followed.past)
    return offered(steps, all_snags(book, followed.aircraft), followed.flown, steps_put_aside(book))

"""What the programme says of an aircraft: snags and how their remedies fared, steps on offer, what is unusual."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from analyser.core.findings import Text
from analyser.programme.before import FUEL_FIGURES, PACK_FIGURES, BeforeFlight, expected, gravest
from analyser.programme.service import ServiceState
from analyser.programme.snags import Snag, SnagState, fare, offered
from analyser.programme.steps import StepFound, find_steps
from analyser.programme.unusual import Likeness, unlike
from analyser.programme.year import Year, year_of
from analyser.season.link.range_check import RangeCheck
from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.programme import service
from spooldown.programme.flights import Followed, follow
from spooldown.programme.snags import all_snags, steps_put_aside
from spooldown.programme.validation import rates_by_limit
from spooldown.register import Register


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


@dataclass(frozen=True)
class Programme:
    """Everything the programme says of one aircraft.

    Parameters
    ----------
    followed : Followed
    snags : tuple of SnagState
        All of them, the open ones first, the newest first.
    offers : tuple of StepFound
    unlike : Likeness or None
        The last flight beside the earlier ones.
    service : tuple of ServiceState
    rates : mapping of str to (int, int)
        By limit: nuisance or sensor fault, and validated.
    """

    followed: Followed
    snags: tuple[SnagState, ...]
    offers: tuple[StepFound, ...]
    unlike: Likeness | None
    service: tuple[ServiceState, ...]
    rates: Mapping[str, tuple[int, int]]

    @property
    def open(self) -> tuple[SnagState, ...]:
        """Open snags."""
        return tuple(s for s in self.snags if s.snag.open)


def programme_of(book: Logbook, known: Register, followed: Followed, today: date) -> Programme:
    """Put together what the programme says of one aircraft."""
    snags = states_of(book, all_snags(book, followed.aircraft), [followed])
    snags.sort(key=lambda s: (not s.snag.open, -s.snag.number))
    last = followed.flights[-1].flight.flight_id if followed.flights else ""
    everyone = {e.aircraft for e in followed.whole.flights} | set(known.aircraft)
    others = [follow(book, known, name, whole=followed.whole) for name in sorted(everyone) if name]
    return Programme(
        followed,
        tuple(snags),
        offers_of(book, followed),
        unlike(last, followed.past) if last else None,
        tuple(service.states(book, known, others, today, followed.aircraft)),
        rates_by_limit(book, followed.aircraft),
    )


def year_in_review(book: Logbook, followed: Followed, year: int) -> Year:
    """Review one aircraft's year; the flights of that year and the one before are read."""
    wanted = [e for e in followed.entries if e.flight.day and year - 1 <= e.flight.day.year <= year]
    inside = replace(followed, entries=tuple(wanted), newest=max(len(wanted), 1))
    events = [
        (f, tuple(followed.whole.brief(f.flight_id).result.events()) if f.day and f.day.year == year else ())
        for f in inside.flown
    ]
    snags = states_of(book, all_snags(book, followed.aircraft), [followed])
    return year_of(followed.aircraft, year, events, inside.past, (snags, find_steps(inside.past)))


def before_flight(programme: Programme, timer: Text) -> BeforeFlight:
    """Gather what to have in mind before an aircraft's next flight."""
    followed = programme.followed
    last = followed.flights[-1] if followed.flights else None
    flight_id = last.flight.flight_id if last else ""
    events = tuple(followed.whole.brief(flight_id).result.events()) if last else ()
    return BeforeFlight(
        followed.aircraft,
        flight_id,
        last.flight.day if last else None,
        expected(followed.past, PACK_FIGURES, flight_id),
        expected(followed.past, FUEL_FIGURES, flight_id),
        timer,
        programme.open,
        gravest(events),
        programme.service,
    )


def timer_of(followed: Followed, checks: Mapping[str, Sequence[RangeCheck]] | None = None) -> Text:
    """What the season says of how long to fly; why it says nothing where it does not."""
    season = followed.whole.season(checks)
    one = next((a for a in season.aircraft if a.aircraft.name == followed.aircraft), None)
    if one is None:
        return ""
    return one.fuel.timer.verdict if one.fuel.timer else one.fuel.timer_missing

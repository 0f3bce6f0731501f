"""What the programme says of an aircraft: kept until a flight, a note, a limit or the day changes."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from msgspec.structs import replace

from analyser.core.events import Event, Level
from analyser.core.findings import Text, say
from analyser.programme.before import FUEL_FIGURES, PACK_FIGURES, BeforeFlight, expected, gravest
from analyser.programme.codes import RemedyCode
from analyser.programme.result import ProgrammeResult
from analyser.programme.service import Component
from analyser.programme.snags import Snag, SnagState, fare, offered
from analyser.programme.steps import FOLLOWED, StepFound, find_steps
from analyser.programme.unusual import unlike
from analyser.programme.year import FIGURES, Year, happened, year_of
from analyser.season.result import SeasonResult
from reports.model import Step, YearPage
from spooldown import register
from spooldown.judging.files import all_limits, limits_of, own_limits, text_of
from spooldown.judging.marks import KIND as MARK
from spooldown.judging.marks import by_flight
from spooldown.logbook.book import Logbook
from spooldown.logbook.codec import to_bytes
from spooldown.problems import LogbookProblem
from spooldown.programme import service
from spooldown.programme.flights import Followed, follow
from spooldown.programme.snags import ASIDE, KIND, all_snags, steps_put_aside
from spooldown.programme.validation import rates_by_limit
from spooldown.register import Register
from spooldown.work import kept
from spooldown.work.overview import Overview, overview
from spooldown.work.prepared import analyser_digest

FOLDER = "programme"
"""In the cache: what the programme says, by aircraft and by year."""


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
        whole = next((one.whole for one in followed), None) or overview(book, known, failures=[])
        at_hand |= {name: follow(book, known, name, whole=whole) for name in wanted}
    return [
        fare(s, at_hand[s.aircraft].past, at_hand[s.aircraft].flown) if s.aircraft in at_hand else fare(s, {}, ())
        for s in snags
    ]


def offers_of(book: Logbook, followed: Followed) -> tuple[StepFound, ...]:
    """Steps that no snag or remedy explains and nobody put aside, the latest first."""
    steps = find_steps(followed.past)
    return offered(steps, all_snags(book, followed.aircraft), followed.flown, steps_put_aside(book))


def results_of(
    book: Logbook, known: Register, whole: Overview, season: SeasonResult, today: date, only: Iterable[str] = ()
) -> dict[str, ProgrammeResult]:
    """What the programme says of every aircraft, or of some; kept while nothing it depends on has changed.

    Parameters
    ----------
    today : date
        Service is counted to it.
    only : iterable of str
        Names, where not all are wanted.

    Raises
    ------
    LogbookProblem
        If the limits of one that is wanted by name do not read; of others nothing is said then.
    """
    everyone = sorted({name for name in whole.lineup.owned if name} | set(known.aircraft))
    followed = {name: follow(book, known, name, whole=whole) for name in everyone}
    common = hashlib.sha256(analyser_digest() + today.isoformat().encode())
    for kind in (KIND, ASIDE, MARK, service.KIND):
        common.update(repr(sorted(book.records(kind).items())).encode())
    common.update(to_bytes(tuple(known.aircraft.values()), sort=True))
    kept_components = service.components(book, known).values()
    out = {}
    for name in only or everyone:
        if name not in followed:
            known.refuse_unread()
        if unreadable := all_limits(book, [name]).unreadable:  # the others go on
            if only:
                raise LogbookProblem(unreadable[name])
            continue
        timer, asks = timer_of(season, name), _asks(season, followed[name])
        digest = common.copy()
        digest.update(f"\n{name}\n{text_of(book, name)}\n".encode() + to_bytes((timer, asks), sort=True))
        for other in _involved(name, kept_components, everyone):
            if other in followed:
                digest.update(whole.keys(followed[other].entries.ids))
        folder, place, key = book.cache_folder / FOLDER, _place(name), digest.hexdigest()
        found = kept.load(folder, place, key, ProgrammeResult)
        if found is None:
            found = _result(book, known, followed, name, today, season=(timer, asks))
            kept.keep(folder, place, key, to_bytes(found))
        out[name] = found
    return out


def _asks(season: SeasonResult, own: Followed) -> tuple[Text, ...]:
    """What the owner is asked to measure of the packs that flew last."""
    last = own.flights[-1].flight.flight_id if own.flights else ""
    return tuple(ask for pack in season.packs if last in pack.flight_ids for ask in pack.asks)


def _involved(name: str, components: Iterable[Component], everyone: Sequence[str]) -> list[str]:
    """Aircraft whose flights count for one aircraft: itself, and those that its components sat in."""
    out = {name}
    for component in components:
        if component.sits and component.sits.aircraft == name:
            out |= set(everyone) if component.kind == "pack" else {f.aircraft for f in component.fits}
    return sorted(out)


def _result(
    book: Logbook, known: Register, followed: Mapping[str, Followed], name: str, today: date, *,
    season: tuple[Text, tuple[Text, ...]],
) -> ProgrammeResult:  # fmt: skip
    own = followed[name]
    snags = states_of(book, all_snags(book, name), [own])
    snags.sort(key=lambda s: (not s.snag.open, -s.snag.number))
    last = own.entries.ids[-1] if own.entries else ""
    steps = find_steps(own.past)
    states = tuple(service.states(book, known, followed.values(), today, name))
    held = {(x.on, x.of, x.part): x for x in limits_of(book, name).every}
    marks = by_flight(book)
    events = tuple(own.whole.brief(last).result.events()) if last else ()
    before = BeforeFlight(
        name,
        last,
        own.flights[-1].flight.day if own.flights else None,
        expected(own.past, PACK_FIGURES, last),
        expected(own.past, FUEL_FIGURES, last),
        season[0],
        tuple(s for s in snags if s.snag.open),
        gravest(events),
        states,
        season[1],
    )
    return ProgrammeResult(
        aircraft=name,
        flights=len(own.flights),
        figures=len(own.past),
        snags=tuple(snags),
        offers=offered(steps, [s.snag for s in snags], own.flown, steps_put_aside(book)),
        steps=steps,
        unlike=unlike(last, own.past) if last else None,
        service=states,
        limits=tuple(held.values()),
        own=tuple(x.name for x in own_limits(book, name)),
        rates=rates_by_limit(book, name),
        astray=tuple(marks.get("", ())),
        before=before,
        years=years_of(own),
    )


def years_of(followed: Followed) -> tuple[int, ...]:
    """Years that an aircraft flew in, the latest first."""
    return tuple(sorted(followed.by_year, reverse=True))


def _place(name: str) -> str:
    return hashlib.sha256(name.encode("utf-8", "surrogatepass")).hexdigest()[:20]


def year_in_review(book: Logbook, followed: Followed, year: int) -> Year:
    """Review one aircraft's year; figures of that year and the one before are read from the kept table."""
    return year_page(book, followed, year).made()


def year_page(book: Logbook, followed: Followed, year: int) -> YearPage:
    """What the page of one aircraft's year is made from; nothing of it is read before somebody asks."""
    whole = followed.whole
    own = {*followed.by_year.get(year - 1, ()), *followed.by_year.get(year, ())}
    wanted = whole.entries(whole.prepared.in_order(own))
    snags = followed.snags
    digest = hashlib.sha256(analyser_digest() + f"{followed.aircraft}\n{year}".encode())
    digest.update(whole.keys(wanted.ids))
    digest.update(followed.entered)
    if any(s.open or s.remedies for s in snags):  # later flights say how its remedies fared
        digest.update(whole.keys(followed.flights.ids))
    folder, place, key = book.cache_folder / FOLDER, f"{_place(followed.aircraft)}-{year}", digest.hexdigest()

    def made() -> Year:
        found = kept.load(folder, place, key, Year)
        if found is None:
            found = _year(book, replace(followed, entries=wanted), followed, year)
            kept.keep(folder, place, key, to_bytes(found))
        return found

    # A line on a snag names flights by their numbers, which others change.
    return YearPage(None if snags else key, made)


def _year(book: Logbook, inside: Followed, followed: Followed, year: int) -> Year:
    flown, past = inside.among(inside.entries.ids, (*FOLLOWED, *FIGURES))
    own = [f for f in flown if f.day and f.day.year == year]
    ids, marks = [f.flight_id for f in own], by_flight(book)
    said = [  # what was no real event has no level any more, and the table leaves it out
        [
            Event(m.kind, m.subject, m.start_s, m.end_s, Level.FINE, "", mark=str(m.verdict))
            for m in marks.get(flight_id, ())
            if m.verdict != "real"
        ]
        for flight_id in ids
    ]
    states = states_of(book, all_snags(book, followed.aircraft), [followed])
    return year_of(
        followed.aircraft,
        year,
        (own, inside.events(ids).with_more(happened(said))),
        past,
        (states, find_steps(past)),
        inside.share(ids),
    )


def timer_of(season: SeasonResult, aircraft: str) -> Text:
    """What the season says of how long to fly; why it says nothing where it does not."""
    one = next((a for a in season.aircraft if a.aircraft.name == aircraft), None)
    if one is None:
        return ""
    return one.fuel.timer.verdict if one.fuel.timer else one.fuel.timer_missing


def remedies_of(programmes: Mapping[str, ProgrammeResult]) -> tuple[Step, ...]:
    """What was done about snags, each before the first flight after it; one no flight followed is left out."""
    return tuple(
        Step(f.first_flight, "remedy", say(RemedyCode.DONE, snag=s.snag.name, what=f.remedy.what), s.snag.measure)
        for one in programmes.values()
        for s in one.snags
        for f in s.fared
        if f.first_flight
    )

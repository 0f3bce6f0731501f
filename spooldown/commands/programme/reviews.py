"""The year and the next flight: ``spooldown year`` and ``spooldown before``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from spooldown.commands.options import AsJson, Book, Language
from spooldown.commands.places import again_where_changed, opened
from spooldown.commands.programme.common import Whose, aircraft_of, day_of
from spooldown.terminal import say, say_json, wrapped

if TYPE_CHECKING:
    from analyser.bench.analysis import BenchResult
    from analyser.programme.before import BeforeFlight
    from analyser.programme.snags import SnagState
    from analyser.programme.year import Year


@again_where_changed
def year(
    aircraft: Whose,
    which: Annotated[
        int, typer.Argument(metavar="YEAR", help="Which year.", show_default="that of the last flight")
    ] = 0,
    language: Language = "",
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Review one aircraft's year: what was measured, found, remedied, confirmed, and what is still open."""
    from spooldown import register
    from spooldown.programme.flights import follow
    from spooldown.programme.review import year_in_review, years_of

    with opened(logbook, language=language) as book:
        name = aircraft_of(book, aircraft)
        followed = follow(book, register.readable(book), name)
        found = year_in_review(book, followed, which or next(iter(years_of(followed)), day_of("").year))
        if as_json:
            say_json(_plain(found))
            return
        _say_year(found)


@again_where_changed
def before(aircraft: Whose, language: Language = "", as_json: AsJson = False, logbook: Book = None) -> None:
    """Show what to have in mind before an aircraft's next flight; it never says that it may fly."""
    from spooldown import register
    from spooldown.programme.review import results_of
    from spooldown.site import bench_results, checks_of
    from spooldown.work.overview import overview

    with opened(logbook, language=language) as book:
        name = aircraft_of(book, aircraft)
        known = register.readable(book)
        whole = overview(book, known, failures=[])
        found = results_of(book, known, whole, whole.season(checks_of(book)), day_of(""), [name])[name].before
        if as_json:
            say_json(_plain(found))
            return
        from reports.pages.programme.before import names_in
        from reports.words.names import naming

        with naming(names_in(found, known.aircraft.get(name))):
            _say_before(found, bench_results(book, known).get(name))


def _plain(found: Any) -> Any:
    import json

    from spooldown.logbook.codec import to_json

    return json.loads(to_json(found))


def _say_year(found: Year) -> None:
    from reports.pages.programme.year import moved_words
    from reports.words.catalogue import message, text
    from reports.words.names import heading
    from reports.words.vocabulary import kind_words, level_word

    say(message("year.title", aircraft=found.aircraft, year=found.year))
    say(message(
        "year.flown", flights=found.flights, days=found.days, hours=found.airborne_h, litres=found.burned_l,
        starts=found.starts,
    ))  # fmt: skip
    if not found.flights:
        return
    say(message("year.measured", figures=found.figures, wanted=found.wanted))
    say(f"\n{message('year.found')}")
    for c in found.events:
        where = heading(c.subject) if "." in c.subject else ""
        say(wrapped(message(
            "year.event", level=level_word(c.worst), kind=kind_words(c.kind), where=where, times=c.times,
            flights=c.flights, nuisance=c.nuisance,
        ), 2))  # fmt: skip
    for step in found.steps:
        say(wrapped(text(step.sentence), 2))
    for moved in found.moved:
        say(wrapped(moved_words(moved), 2))
    if not (found.events or found.steps or found.moved):
        say(message("year.nothing"))
    say(f"\n{message('year.remedied')}")
    states = {s.snag.number: s for s in (*found.opened, *found.closed, *found.open)}
    for state in states.values():
        _say_snag(state)
    if not states:
        say(message("year.no_snags"))
    say(message(
        "year.verdicts", opened=len(found.opened), closed=len(found.closed), open=len(found.open),
        worked=found.verdicts["worked"], did_not=found.verdicts["did_not"], cant_tell=found.verdicts["cant_tell"],
    ))  # fmt: skip
    say(message("cli.caution"))


def _say_snag(state: SnagState) -> None:
    from reports.words.catalogue import message, text

    s = state.snag
    say(wrapped(message("snags.line", name=s.name, title=s.title, day=s.day, closed=s.closed or ""), 2))
    for fared in state.fared:
        verdict = text(fared.comparison.sentence) if fared.comparison else message("remedies.no_comparison")
        say(wrapped(f"  {fared.remedy.day}: {fared.remedy.what}. {verdict}", 4))


def _say_before(found: BeforeFlight, bench: BenchResult | None) -> None:
    from reports.pages.bench import open_matters
    from reports.pages.programme.before import expected_words
    from reports.words.catalogue import message, text
    from reports.words.times import clock
    from reports.words.vocabulary import cautions, level_word

    say(message("before.title", aircraft=found.aircraft))
    if not found.last_flight:
        say(message("before.never_flown"))
    else:
        say(message("before.last", flight=found.last_flight, day=found.last_day or ""))
        for title, rows in (("before.packs", found.packs), ("before.fuel", found.fuel)):
            say(f"\n{message(title)}")
            for row in rows:
                say(wrapped(expected_words(row), 2))
            if not rows:
                say(message("before.nothing"))
            for ask in found.asks if title == "before.packs" else ():
                say(wrapped(text(ask), 2))
        if found.timer:
            say(wrapped(text(found.timer), 2))
        say(f"\n{message('before.passed')}")
        for event in found.passed:
            say(wrapped(f"{level_word(event.level)}, {clock(event.start_s)}: {text(event.summary)}", 2))
        if not found.passed:
            say(message("before.none_passed"))
    say(f"\n{message('before.snags')}")
    for state in found.snags:
        _say_snag(state)
    if not found.snags:
        say(message("snags.none", all=False))
    say(f"\n{message('before.service')}")
    for service in found.service:
        for due in service.due:
            say(wrapped(text(due.sentence), 2))
    if not any(s.due for s in found.service):
        say(message("service.none"))
    if bench is not None:
        say(f"\n{message('bench_says.title')}")
        matters = open_matters(bench)
        for line, words in matters:
            say(wrapped(f"{level_word(line.level)}, {line.record.day}: {words}", 2))
        if not matters:
            say(message("bench_says.nothing_open"))
    say()
    for caution in cautions():
        say(wrapped(caution))

"""Validating events: ``spooldown marks``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from spooldown.commands.options import AsJson, Book, DryRun, Language, OnlyAircraft, meant
from spooldown.commands.places import opened
from spooldown.commands.programme.common import aircraft_of, day_of
from spooldown.commands.shell.completing import flight_words, one_of
from spooldown.commands.shell.grouping import Grouped
from spooldown.problems import NotFoundProblem, UsageProblem
from spooldown.terminal import say, say_json, table

if TYPE_CHECKING:
    from analyser.core.events import Event
    from analyser.record import FlightRecord
    from spooldown.logbook.book import Logbook

app = typer.Typer(
    cls=Grouped, help="Say of events whether they were real, a nuisance or a sensor's fault.", no_args_is_help=True,
    rich_markup_mode=None,
)  # fmt: skip
VerdictWord = Annotated[
    str,
    typer.Argument(
        metavar="VERDICT", help="real, nuisance, sensor, or none to take it back.",
        autocompletion=one_of("real", "nuisance", "sensor", "none"),
    ),
]  # fmt: skip
OfFlight = Annotated[
    str, typer.Option("--flight", help="Only this flight: its id, its number, or latest.", autocompletion=flight_words)
]
OfKind = Annotated[str, typer.Option("--kind", help="Only this kind: sag, fade …")]
OfPart = Annotated[str, typer.Option("--part", help="Only of this part: pack.rx1, link.rx2.antenna2 …")]
OfLimit = Annotated[str, typer.Option("--limit", help="Only what this limit judged.")]
OfLevel = Annotated[
    str, typer.Option("--level", help="This level and above.", autocompletion=one_of("note", "watch", "act"))
]


@app.command("list")
def listed(
    flight: OfFlight = "",
    aircraft: OnlyAircraft = "",
    kind: OfKind = "",
    part: OfPart = "",
    limit: OfLimit = "",
    level: OfLevel = "note",
    language: Language = "",
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """List events with their numbers and what was said of them; marks whose event is gone come last."""
    from reports.words.catalogue import message, text
    from reports.words.times import clock
    from reports.words.vocabulary import kind_words, level_word
    from spooldown.judging.marks import validated

    with opened(logbook, language=language) as book:
        flights, whole = _flights(book, flight, aircraft)
        found = _chosen(flights, kind, part, limit, level)
        said = validated(book, whole)
        reasons = {(f, e.kind, e.subject, e.start_s): m for m, f, e in said.found}
        if as_json:
            say_json({
                "events": [
                    {"flight": f.flight_id, "number": n, "kind": e.kind, "subject": e.subject, "start_s": e.start_s,
                     "level": e.level.name.lower(), "mark": e.mark,
                     "reason": m.reason if (m := reasons.get((f.flight_id, e.kind, e.subject, e.start_s))) else "",
                     "summary": text(e.summary)} for f, n, e in found
                ],
                "astray": [
                    {"flight": m.flight_id, "kind": m.kind, "subject": m.subject, "start_s": m.start_s,
                     "mark": str(m.verdict), "reason": m.reason} for m in said.astray
                ],
            })  # fmt: skip
            return
        table(
            [message(f"marks.head.{h}") for h in ("flight", "number", "at", "level", "kind", "mark", "what")],
            [
                (
                    f.flight_id, n, clock(e.start_s), level_word(e.level), kind_words(e.kind),
                    message(f"mark.{e.mark}") if e.mark else "", text(e.summary),
                )
                for f, n, e in found
            ],
            numeric=(1,), optional=(4,),
        )  # fmt: skip
        for m in said.astray:
            say(message("marks.astray", flight=m.flight_id, kind=kind_words(m.kind), at=clock(m.start_s),
                        verdict=message(f"mark.{m.verdict}"), reason=m.reason))  # fmt: skip


@app.command("set")
def set_marks(
    verdict: VerdictWord,
    numbers: Annotated[list[int] | None, typer.Argument(help="Numbers of events, as `marks list` counts them.")] = None,
    flight: OfFlight = "",
    aircraft: OnlyAircraft = "",
    kind: OfKind = "",
    part: OfPart = "",
    limit: OfLimit = "",
    level: OfLevel = "note",
    reason: Annotated[str, typer.Option(help="Why.")] = "",
    dry_run: DryRun = False,
    language: Language = "",
    logbook: Book = None,
) -> None:
    """Mark events of a flight by their numbers, or all that --kind, --part, --limit and --level choose."""
    from analyser.programme.marks import Verdict
    from reports.words.catalogue import message

    with opened(logbook, language=language) as book:
        words = [*(str(v) for v in Verdict), "none"]
        if verdict not in words:
            raise UsageProblem(message("marks.no_verdict", found=verdict, known=tuple(words)))
        if not (numbers or kind or part or limit):
            raise UsageProblem(message("marks.which"))
        if numbers and not flight:
            raise UsageProblem(message("marks.numbers_of"))
        flights, _ = _flights(book, flight, aircraft)
        if numbers:
            events = tuple(flights[0].result.events())
            for n in numbers:
                if not 1 <= n <= len(events):
                    raise NotFoundProblem(
                        message("marks.no_event", flight=flights[0].flight_id, which=n, there=len(events))
                    )
            chosen = [(flights[0], events[n - 1]) for n in dict.fromkeys(numbers)]
        else:
            chosen = [(f, e) for f, _, e in _chosen(flights, kind, part, limit, level)]
        if not chosen:
            raise NotFoundProblem(message("marks.none_chosen"))
        if not dry_run:
            _keep(book, chosen, verdict, reason)
        code = "marks.would" if dry_run else "marks.taken_back" if verdict == "none" else "marks.done"
        said = "" if verdict == "none" else message(f"mark.{verdict}")
        say(message(code, count=len(chosen), flights=len({f.flight_id for f, _ in chosen}), verdict=said))


def _keep(book: Logbook, chosen: Sequence[tuple[FlightRecord, Event]], verdict: str, reason: str) -> None:
    from analyser.programme.marks import Verdict
    from spooldown.programme.validation import forget, mark

    if verdict == "none":
        forget(book, chosen)
    else:
        mark(book, chosen, Verdict(verdict), reason, day_of("").isoformat())


def _flights(book: Logbook, flight: str, aircraft: str) -> tuple[list[FlightRecord], list[FlightRecord]]:
    """Flights that are meant, and all flights that marks may be of."""
    from spooldown import register
    from spooldown.work.results import analysed

    whole = [one.record for one in analysed(book, register.readable(book), failures=[])]
    if flight:
        flight_id = meant(book, flight)
        return [f for f in whole if f.flight_id == flight_id], whole
    owner = aircraft_of(book, aircraft) if aircraft else ""
    return [f for f in whole if owner in ("", f.aircraft)], whole


def _chosen(
    flights: Sequence[FlightRecord], kind: str, part: str, limit: str, level: str
) -> list[tuple[FlightRecord, int, Event]]:
    from analyser.core.events import Level
    from reports.words.catalogue import message
    from spooldown.programme.validation import Wanted, choose

    known: dict[str, Any] = {"fine": Level.FINE, **{x.name.lower(): x for x in Level if x > Level.FINE}}
    if level not in known:
        raise UsageProblem(message("marks.no_level", found=level, known=tuple(known)))
    wanted = Wanted(kind, part, limit, known[level])
    # What was marked a nuisance has no level any more: it stays in the list.
    return [x for x in choose(flights, Wanted(kind, part, limit)) if x[2].level >= wanted.level or x[2].mark]

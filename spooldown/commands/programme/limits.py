"""Limits of an aircraft: ``spooldown limits``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from spooldown.commands.options import AsJson, Book, Language, only_of
from spooldown.commands.places import opened, read_file
from spooldown.commands.shell.completing import aircraft_names
from spooldown.commands.shell.grouping import Grouped
from spooldown.exit_codes import ExitCode
from spooldown.problems import LogbookProblem, UsageProblem
from spooldown.terminal import confirmed, say, say_json, table

if TYPE_CHECKING:
    from analyser.core.levels import Limit
    from analyser.programme.trial import Trial
    from spooldown.logbook.book import Logbook

app = typer.Typer(
    cls=Grouped, help="Show, start, try or change the limits of an aircraft.", no_args_is_help=True,
    rich_markup_mode=None,
)  # fmt: skip
Whose = Annotated[str, typer.Argument(metavar="AIRCRAFT", help="Whose limits.", autocompletion=aircraft_names)]
TrialFile = Annotated[Path, typer.Argument(metavar="FILE", help="A limits file, as `limits start --print` prints it.")]
SHOWN_CHANGES = 12
"""Changes listed one by one before the rest is only counted."""


@app.command()
def show(aircraft: Whose, language: Language = "", as_json: AsJson = False, logbook: Book = None) -> None:
    """Show the limits that hold for an aircraft, and how often each was a nuisance."""
    from reports.words.catalogue import message
    from spooldown.judging.files import limits_of, own_limits
    from spooldown.programme.validation import rates_by_limit

    with opened(logbook, language=language) as book:
        name = _name(book, aircraft)
        own = {(x.on, x.of, x.part) for x in own_limits(book, name)}
        held = {(x.on, x.of, x.part): x for x in limits_of(book, name).every}
        rates = rates_by_limit(book, name)
        if as_json:
            say_json([{**_json(x), "own": key in own, "validated": rates.get(x.name, (0, 0))[1],
                       "nuisance": rates.get(x.name, (0, 0))[0]} for key, x in held.items()])  # fmt: skip
            return
        heads = ("name", "on", "level", "beyond", "where", "source", "nuisance")
        table(
            [message(f"limits.head.{h}") for h in heads],
            [
                (
                    x.name, x.of, x.level.name.lower() if x.on in ("event", "matter") else "", _numbers(x),
                    " ".join(part for part in (x.part, x.phase, f"≥ {x.for_s:g} s" if x.for_s else "") if part),
                    message(f"limit_source.{x.source.name.lower()}"), _rate(rates.get(x.name)),
                )
                for x in held.values()
            ],
            optional=(4, 5),
        )  # fmt: skip
        say(message("limits.own" if own else "limits.none_own", aircraft=name, count=len(own)))


@app.command()
def start(
    aircraft: Whose,
    printed: Annotated[bool, typer.Option("--print", help="Print it; keep nothing.")] = False,
    language: Language = "",
    logbook: Book = None,
) -> None:
    """Give an aircraft a limits file to start from, every value marked with where it comes from."""
    from analyser.core.aircraft import Aircraft
    from analyser.programme.starting import starting_set
    from reports.words.catalogue import message
    from spooldown import register
    from spooldown.judging.files import path_of, save, text_of, written

    with opened(logbook, language=language) as book:
        name = _name(book, aircraft)
        described = register.load(book).aircraft.get(name, Aircraft(name))
        text = written(name, starting_set(described))
        if printed:
            typer.echo(text, nl=False)
            return

        def fits() -> None:
            if text_of(book, name):
                raise UsageProblem(message("limits.there_already", aircraft=name, path=str(path_of(book, name))))

        count = len(save(book, name, text, fits))
        say(message("limits.started", aircraft=name, count=count, path=str(path_of(book, name))))


@app.command("try")
def try_out(
    aircraft: Whose, file: TrialFile, language: Language = "", as_json: AsJson = False, logbook: Book = None
) -> None:
    """Judge all past flights by a changed limits file and say what would change; nothing is kept."""
    from spooldown import register
    from spooldown.programme.trial import try_text

    with opened(logbook, language=language) as book:
        name = _name(book, aircraft)
        trial = try_text(book, register.load(book), name, _text(file), str(file))
        if as_json:
            say_json(_trial_json(trial))
            return
        _say_trial(name, trial)


@app.command()
def edit(
    aircraft: Whose,
    file: Annotated[Path | None, typer.Argument(help="A changed file.", show_default="opens your editor")] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Keep it without asking.")] = False,
    language: Language = "",
    logbook: Book = None,
) -> None:
    """Change the limits of an aircraft: in your editor, or with a changed file; shown on past flights, then kept."""
    from reports.words.catalogue import message
    from spooldown import register
    from spooldown.judging.files import path_of, save, text_of
    from spooldown.programme.trial import try_text

    with opened(logbook, language=language) as book:
        name = _name(book, aircraft)
        old = text_of(book, name)
        text = _text(file) if file else _in_editor(old or _starting(book, name))
        if text == old:
            say(message("limits.unchanged", aircraft=name))
            return
        _say_trial(name, try_text(book, register.load(book), name, text, str(file or path_of(book, name))))
        if not yes and not confirmed(message("limits.keep", aircraft=name)):
            say(message("limits.not_kept"))
            raise typer.Exit(ExitCode.INTERRUPTED)

        def fits() -> None:
            if not file and text_of(book, name) != old:  # what the editor began with
                raise LogbookProblem("limits.changed_meanwhile", aircraft=name)

        count = len(save(book, name, text, fits))
        say(message("limits.kept", aircraft=name, count=count))


@app.command()
def known(as_json: AsJson = False, language: Language = "", logbook: Book = None) -> None:
    """List everything a limit can be set on: events, matters, figures and channels, with their units."""
    from analyser.programme.measures import BY_ID
    from reports.words.catalogue import has, message, text
    from spooldown.judging.files import ONS, known_things, unit_of

    with opened(logbook, must_exist=False, language=language):
        rows = []
        for on in ONS:
            for thing in known_things(on):
                code = f"channel.{thing}" if on == "channel" else f"limits.of.{on}.{thing}"
                code = str(BY_ID[thing].code) if on == "figure" else code
                kind = f"kind.{thing}"
                words = text(message(code)) if has(code) else message(kind) if has(kind) else ""
                rows.append((thing, on, unit_of(on, thing) or "", words))
        if as_json:
            say_json([dict(zip(("thing", "on", "unit", "words"), row, strict=True)) for row in rows])
            return
        table([message(f"limits.head.{h}") for h in ("of", "on", "unit", "words")], rows)


def _name(book: Logbook, word: str) -> str:
    return only_of(book, word, (f.aircraft for f in book.flights()))


def _text(file: Path) -> str:
    from importers.refusal import Refusal
    from spooldown.judging.codes import LimitsRefused

    try:
        return read_file(file).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refusal(str(file), LimitsRefused.NOT_UTF8, byte=error.start) from error


def _starting(book: Logbook, name: str) -> str:
    from analyser.core.aircraft import Aircraft
    from analyser.programme.starting import starting_set
    from spooldown import register
    from spooldown.judging.files import written

    return written(name, starting_set(register.load(book).aircraft.get(name, Aircraft(name))))


def _in_editor(text: str) -> str:
    import click

    from reports.words.catalogue import message

    try:
        changed = click.edit(text, extension=".toml")
    except click.ClickException as error:
        raise UsageProblem(message("limits.no_editor", why=str(error.message))) from error
    return text if changed is None else changed


def _json(x: Limit) -> dict[str, object]:
    return {
        "name": x.name, "on": x.on, "of": x.of, "level": x.level.name.lower(), "above": dict(x.above),
        "below": dict(x.below), "unit": x.unit, "part": x.part, "for_s": x.for_s, "phase": x.phase,
        "source": str(x.source), "note": x.note,
    }  # fmt: skip


def _numbers(x: Limit) -> str:
    said = [
        f"{sign} {bound:g}{f' {x.unit}' if x.unit else ''} {level}"
        for sign, bounds in ((">", x.above), ("<", x.below))
        for level, bound in bounds.items()
    ]
    return ", ".join(said)


def _rate(rate: tuple[int, int] | None) -> str:
    return f"{rate[0]}/{rate[1]}" if rate else ""


def _trial_json(trial: Trial) -> dict[str, object]:
    from reports.words.catalogue import text

    return {
        "flights": trial.flights,
        "changes": [
            {
                "flight": c.flight_id, "kind": c.event.kind, "subject": c.event.subject, "start_s": c.event.start_s,
                "limit": c.event.limit, "before": c.before.name.lower(), "after": c.after.name.lower(),
                "summary": text(c.event.summary),
            }
            for c in trial.changes
        ],
        "limits": [
            {
                "limit": t.limit, "before": t.before, "after": t.after, "flights_before": t.flights_before,
                "flights_after": t.flights_after,
            }
            for t in trial.tallies
        ],
    }  # fmt: skip


def _say_trial(aircraft: str, trial: Trial) -> None:
    from reports.words.catalogue import message, text
    from reports.words.vocabulary import level_word

    if not trial.changes:
        say(message("limits.trial_same", flights=trial.flights, aircraft=aircraft))
        return
    say(message("limits.trial", changes=len(trial.changes), flights=trial.flights, aircraft=aircraft))
    table(
        [message(f"limits.head.{h}") for h in ("name", "before", "after")],
        [
            (t.limit, *(message("limits.times", times=n, flights=f) for n, f in (
                (t.before, t.flights_before), (t.after, t.flights_after)
            )))
            for t in trial.tallies
        ],
    )  # fmt: skip
    for c in trial.changes[-SHOWN_CHANGES:]:
        say(message(
            "limits.change", flight=c.flight_id, before=level_word(c.before), after=level_word(c.after),
            summary=text(c.event.summary),
        ))  # fmt: skip
    if len(trial.changes) > SHOWN_CHANGES:
        say(message("limits.more", count=len(trial.changes) - SHOWN_CHANGES))

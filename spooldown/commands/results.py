"""Results out: the pages, tables for other programs, and the demonstration."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from spooldown.commands.options import AsJson, Book, DryRun, Language, OnlyAircraft, all_meant, meant, only_of
from spooldown.commands.places import again_where_changed, end_partly, opened
from spooldown.commands.shell.completing import flight_words, one_of
from spooldown.problems import LogbookProblem, NotFoundProblem, UsageProblem, writing_to
from spooldown.processes.cores import POOL_FROM
from spooldown.terminal import say, say_json, steps_bar, tell

if TYPE_CHECKING:
    from reports.model import FailedFlight, Site
    from spooldown.logbook.book import Logbook


@again_where_changed
def pages(
    out: Annotated[Path | None, typer.Option(help="Folder for the pages.", show_default="pages in the logbook")] = None,
    single: Annotated[
        tuple[str, Path] | None, typer.Option(metavar="FLIGHT FILE", help="Only this flight, in one file to send.")
    ] = None,
    compare: Annotated[
        list[str] | None,
        typer.Option(metavar="FLIGHT", help="Lay these side by side.", autocompletion=flight_words),
    ] = None,
    open_it: Annotated[bool, typer.Option("--open", help="Open the result in the browser.")] = False,
    language: Language = "",
    dry_run: DryRun = False,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Build the pages; only what changed is analysed and written again."""
    from spooldown.processes.lightly import load_lightly
    from spooldown.processes.workers import ANALYSING, together
    from spooldown.work.unchanged import counts_of_last, remember, state_read

    failed: tuple[FailedFlight, ...] = ()
    address = ""
    with opened(logbook, language=language) as book:
        if book.address and not (out or single):
            raise UsageProblem("usage.stored_read_only")
        folder = out or book.folder / "pages"
        chosen = all_meant(book, (word.strip() for item in compare or [] for word in item.split(",") if word.strip()))
        if single:
            single = meant(book, single[0]), single[1]
        if chosen and (single or len(chosen) < 2):
            raise UsageProblem("usage.compare_two")
        if dry_run:
            tell("cli.would_build", place=str(single[1] if single else folder), flights=len(book.flights()))
            return
        read = "" if single else state_read(book)  # what comes from here on is for the next build
        counts = None if single or chosen or book.said or book.left_out else counts_of_last(book, folder, read)
        if counts is not None:
            result = folder / "index.html"
        elif single:
            from reports.model import Unreadable
            from reports.site import build_single_flight

            site = _site(book, as_json)
            if whys := [f.why for f in site.failed if f.flight_id == single[0]]:
                raise LogbookProblem(whys[0])
            try:
                with writing_to(single[1]):
                    result = build_single_flight(site, single[0], single[1])
            except Unreadable as unreadable:
                raise LogbookProblem(str(unreadable)) from unreadable
            failed = site.failed
        else:
            load_lightly()
            with together(ANALYSING if _many_new(book) else ()):
                site = _site(book, as_json)
                book.still_there()
                result, counts, failed = _build(book, site, folder, as_json)
            chosen = [i for i in chosen if i not in {f.flight_id for f in failed}]
            if len(chosen) > 1:
                from reports.site import comparison_address

                address = comparison_address(site, chosen, folder)
            elif not (failed or book.left_out):
                remember(read, folder, counts["written"] + counts["kept"])
    if as_json:
        failures = {"failed": [{"flight": f.flight_id, "why": str(f.why)} for f in failed]} if failed else {}
        say_json({"page": address or str(result.resolve()), **(counts or {}), **failures})
    else:
        if counts:
            tell("cli.pages_built", **counts)
        say(address or str(result.resolve()))
    if open_it:
        import webbrowser

        webbrowser.open(address or result.resolve().as_uri())
    end_partly([f.why for f in failed], book.left_out)


_EXPORTED = ("figures", "events", "flights", "range-checks", "telemetry")
_FORMS = ("csv", "json", "parquet")


@again_where_changed
def export(
    what: Annotated[
        str,
        typer.Argument(help="figures, events, flights, range-checks or telemetry.", autocompletion=one_of(*_EXPORTED)),
    ] = "figures",
    aircraft: OnlyAircraft = "",
    *,
    flight: Annotated[list[str] | None, typer.Option(help="Only these flights.", autocompletion=flight_words)] = None,
    form: Annotated[
        str,
        typer.Option(
            "--format",
            help="csv, json or parquet.",
            show_default="by --out, else csv",
            autocompletion=one_of(*_FORMS),
        ),
    ] = "",
    out: Annotated[Path | None, typer.Option(help="File to write.", show_default="standard output")] = None,
    every: Annotated[bool, typer.Option("--all", help="Every event by itself, not those alike in one row.")] = False,
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Export results (or one flight's telemetry) as CSV, JSON or Parquet."""
    from spooldown import register
    from spooldown.work import export as exporting
    from spooldown.work.analysing import Failure
    from spooldown.work.results import analysed

    form = exporting.form_of(out, form)
    if form not in _FORMS or what not in _EXPORTED:
        raise UsageProblem("usage.export_what", what=_EXPORTED)
    failures: list[Failure] = []
    with opened(logbook) as book:
        chosen = all_meant(book, flight or [])
        flown = book.flights()
        aircraft = only_of(book, aircraft, (f.aircraft for f in flown))
        if aircraft and what != "range-checks":
            owned = [f.flight_id for f in flown if f.aircraft == aircraft and (not chosen or f.flight_id in chosen)]
            if not owned:
                raise NotFoundProblem("problem.none_of_aircraft", aircraft=aircraft)
            chosen = owned
        if what == "telemetry":
            if len(chosen) != 1:
                raise UsageProblem("usage.one_telemetry")
            data = exporting.encode_table(book.telemetry(chosen[0]).table, form)
        elif what == "range-checks":
            if chosen:
                raise UsageProblem("usage.checks_of_no_flight")
            from spooldown.site import range_results

            checks = [c for c in book.range_checks() if aircraft in ("", c[1])]
            rows = exporting.range_rows(checks, range_results(book, {who for _, who, _ in checks}))
            data = exporting.encode(rows, form)
        else:
            with steps_bar(quiet=out is None) as step:
                found = analysed(book, register.readable(book), only=chosen, progress=step, failures=failures)
            rows = exporting.rows_of(found, what, together=not every)  # type: ignore[arg-type]
            data = exporting.encode(rows, form, exporting.HEADINGS[what])
    if dry_run:
        tell("cli.would_write_bytes", bytes=len(data), form=form, place=str(out or "-"))
    elif out is None:
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    else:
        from spooldown.logbook.store import write_whole

        with writing_to(out):
            write_whole(out, data)
        tell("cli.wrote", place=str(out))
    end_partly([f.why for f in failures], book.left_out)


def demo(
    folder: Annotated[Path, typer.Argument(help="Where to put the demonstration.")] = Path("spooldown-demo"),
    open_it: Annotated[bool, typer.Option("--open", help="Open the start page in the browser.")] = False,
    language: Language = "",
    as_json: AsJson = False,
) -> None:
    """Import the invented sample logs into a fresh logbook and build its pages."""
    from spooldown.processes.lightly import load_lightly

    load_lightly()
    from reports.words.catalogue import message
    from reports.words.reader import reading
    from spooldown import demo as demonstration
    from spooldown.preferences import reader_of, remember
    from spooldown.processes.workers import ANALYSING, together
    from spooldown.work import unchanged

    samples = demonstration.sample_folder()
    with together(ANALYSING), demonstration.fresh(folder) as book, reading(reader_of(None, language)):
        with steps_bar(quiet=as_json) as step:
            if language:
                remember(book, {"language": language})
            outcomes, _ = demonstration.fill(book, samples, progress=step)
        count = sum(len(o.flight_ids) for o in outcomes if o.state == "imported")
        if not as_json:
            tell("cli.demo_imported", flights=count)
        read = unchanged.state_read(book)
        start, counts, failed = _build(book, _site(book, as_json), folder / "pages", as_json)
        if not failed:
            unchanged.remember(read, folder / "pages", counts["written"] + counts["kept"])
    if as_json:
        say_json({"page": str(start.resolve()), "flights": count, **counts})
    else:
        tell("cli.start_here", written=counts["written"])
        say(str(start.resolve()))
        tell("cli.or_desk")
        say(f"  {_command()} desk --logbook {folder / 'logbook'}")
        say(message("live.demo"))
        replayed = f"replay latest --speed 10 --logbook {folder / 'logbook'}"
        say(f"  {_command()} {replayed} | {_command()} record - --logbook {folder / 'logbook'}")
    if open_it:
        import webbrowser

        webbrowser.open(start.resolve().as_uri())


@again_where_changed
def bring_up_to_date(book: Logbook, quiet: bool) -> tuple[Path, dict[str, int], tuple[FailedFlight, ...]]:
    """Build the logbook's own pages: the start page, how many were written, and the flights that failed."""
    from spooldown.processes.workers import together
    from spooldown.work.unchanged import remember, state_read

    folder = book.folder / "pages"
    read = state_read(book)
    with together():
        start, counts, failed = _build(book, _site(book, quiet), folder, quiet)
    if not failed:
        remember(read, folder, counts["written"] + counts["kept"])
    return start, counts, failed


def _site(book: Logbook, quiet: bool) -> Site:
    from spooldown.processes.lightly import load_lightly

    load_lightly()
    from spooldown import register
    from spooldown.site import site_of

    known = register.readable(book)
    with steps_bar(quiet=quiet) as step:
        return site_of(book, known, progress=step)


def _many_new(book: Logbook) -> bool:
    """Whether so many flights have no result yet that workers will make them, as far as names tell."""
    try:
        stored, there = (sum(1 for _ in os.scandir(f)) for f in (book.flights_folder, book.cache_folder))
    except OSError:  # no result yet
        stored, there = (len(os.listdir(book.flights_folder)) if book.flights_folder.is_dir() else 0), 0
    return stored - there // 2 >= POOL_FROM


def _build(
    book: Logbook, site: Site, folder: Path, quiet: bool
) -> tuple[Path, dict[str, int], tuple[FailedFlight, ...]]:
    from spooldown.site import build

    with steps_bar(quiet=quiet) as step, writing_to(folder):
        built = build(book, site, folder, step)
    counts = {"written": built.written, "kept": built.kept, "removed": built.removed}
    return built.start, counts, built.failed


def _command() -> str:
    """How this command was called, to be typed again."""
    return (
        sys.argv[0] if Path(sys.argv[0]).name.startswith("spooldown") else f"{Path(sys.executable).name} -m spooldown"
    )

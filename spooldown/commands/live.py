"""While it happens: ``spooldown record``, and a flight played again as if it were live, ``spooldown replay``."""

from __future__ import annotations

import sys
import time
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from spooldown.commands.logs import corrected, mapping_file
from spooldown.commands.options import AsJson, Book, FlightWord, Language, OfAircraft, meant, owner_of
from spooldown.commands.places import local_folder, opened
from spooldown.exit_codes import ExitCode
from spooldown.problems import Problem, UsageProblem
from spooldown.terminal import complain, say, say_json

if TYPE_CHECKING:
    from spooldown.live.recorder import Summary
    from spooldown.live.session import Session
    from spooldown.logbook.book import Logbook

PORTS = "ports"


def record(
    source: Annotated[
        str,
        typer.Argument(
            metavar="SOURCE",
            help="A serial port (serial:/dev/ttyUSB0, COM3), - for standard input, a file that grows, udp:PORT, "
            "tcp:HOST:PORT or tcp-listen:PORT. Without one: the serial ports there are.",
        ),
    ] = "",
    out: Annotated[
        Path | None,
        typer.Option(help="The file to record into.", show_default="a new one in the logbook's folder recordings"),
    ] = None,
    baud: Annotated[int, typer.Option(min=50, max=4_000_000, help="Speed of a serial port.")] = 115_200,
    headings: Annotated[
        str, typer.Option(metavar="LINE", help="The line of headings, where the source sends none.")
    ] = "",
    headings_of: Annotated[
        Path | None,
        typer.Option("--headings-of", metavar="LOG", help="Take them from this log, or from a saved mapping."),
    ] = None,
    aircraft: OfAircraft = "",
    limit: Annotated[
        list[str] | None,
        typer.Option(
            metavar="CHANNEL<VALUE",
            help="Speak when it is passed: 'pack.rx1.voltage_v<7.2', 'fuel.*.remaining_ml<600'.",
        ),
    ] = None,
    keep_limits: Annotated[bool, typer.Option("--keep-limits", help="Remember these limits in the logbook.")] = False,
    answer: Annotated[list[str] | None, typer.Option(metavar="KEY=VALUE", help="Settle an open question.")] = None,
    column: Annotated[list[str] | None, typer.Option(metavar="HEADING=CHANNEL", help="Say what a column is.")] = None,
    unit: Annotated[
        list[str] | None, typer.Option(metavar="HEADING=UNIT", help="Say which unit a column is in.")
    ] = None,
    mapping: Annotated[
        list[Path] | None, typer.Option(help="A saved column mapping to use: its file, or its name in the logbook.")
    ] = None,
    append: Annotated[bool, typer.Option("--append", help="Go on behind what the file holds.")] = False,
    seconds: Annotated[
        float | None, typer.Option("--for", min=0.1, metavar="SECONDS", help="End after so long.")
    ] = None,
    idle: Annotated[float | None, typer.Option(min=0.1, metavar="SECONDS", help="End after so long a silence.")] = None,
    import_it: Annotated[bool, typer.Option("--import", help="Import it at the end.")] = False,
    plain: Annotated[bool, typer.Option("--plain", help="Plain lines instead of a screen.")] = False,
    bell: Annotated[bool, typer.Option("--bell/--no-bell", help="Ring the terminal's bell with a limit.")] = True,
    language: Language = "",
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Record lines of telemetry while they come, and show them; Ctrl-C ends it. No alarm to fly by."""
    from reports.words.catalogue import message
    from spooldown import register
    from spooldown.live import limits, recordings
    from spooldown.live.session import Session
    from spooldown.live.sources.addresses import source_of
    from spooldown.live.sources.opening import source_at

    with opened(logbook, must_exist=False, language=language) as book:
        if not source:
            _list_ports(as_json)
            return
        local_folder(logbook)
        address = source_of(source, baud)
        answers = corrected(answer, column, unit)
        known = register.load(book)
        owner = owner_of(known, aircraft)
        set_limits = limits.parse_all([*book.setting(limits.SETTING).splitlines(), *(limit or [])])
        if keep_limits:
            book.set_setting(limits.SETTING, "\n".join(map(str, set_limits)))
        path = out or recordings.new_path(recordings.folder_of(book.folder), datetime.now(), owner)
        made = Session(
            source_at(address), path, more=append, headings=_headings(book, headings, headings_of), idle_s=idle,
            until_s=seconds, limits=set_limits, answers=answers, aircraft=known.find_aircraft(owner) if owner else None,
            mappings=[*(mapping_file(book, m) for m in mapping or []), *book.mapping_files()],
        )  # fmt: skip
        if address.listens_outside:
            complain(message("live.listens_outside", address=str(address)))
        summary = _run(made, plain=plain or as_json or not sys.stdout.isatty(), bell=bell, quiet=as_json)
        ready = recordings.importable(path)
        _tell(summary, ready, as_json=as_json)
        if summary.bytes and import_it:
            _import(book, ready, owner, answers, as_json=as_json)
        elif not as_json and summary.bytes:
            named = (f" --aircraft {owner}" if owner else "") + (f" --logbook {logbook}" if logbook else "")
            say(message("live.import_with", command=f"spooldown import {ready}{named}"))
        if summary.lost_bytes or summary.why:
            raise typer.Exit(ExitCode.PARTLY)


def _run(made: Session, *, plain: bool, bell: bool, quiet: bool) -> Summary:
    from spooldown.live.screen import show

    made.start()
    try:
        if quiet:
            while made.going:
                time.sleep(0.1)
        else:
            show(made.watch, lambda: made.going, plain=plain, bell=bell)
    except KeyboardInterrupt:  # how a recording ends
        pass
    finally:
        summary = made.stop()
    return summary


def _headings(book: Logbook, given: str, named: Path | None) -> str:
    """The line of headings that was given, that a log begins with, or that a saved mapping was made for."""
    from importers.layout.mapping import load
    from importers.plan import plan
    from importers.refusal import Refusal
    from reports.words.catalogue import message

    if named is None:
        return given
    if given:
        raise UsageProblem(message("live.refused.two_headings"))
    with suppress(Refusal, Problem):
        if header := load(mapping_file(book, named)).header:
            return header
    with suppress(Refusal):
        return plan(named).dialect.header
    raise UsageProblem(message("live.refused.no_headings", word=str(named)))


def _list_ports(as_json: bool) -> None:
    from reports.words.catalogue import message
    from spooldown.live.sources.ports import found

    ports = found()
    if as_json:
        say_json({PORTS: list(ports)})
        return
    say(message("live.ports", ports=ports))


def _tell(summary: Summary, ready: Path, *, as_json: bool) -> None:
    from reports.words.catalogue import message
    from spooldown.live.recordings import journal_of

    if as_json:
        say_json({
            "file": str(summary.path), "journal": str(journal_of(summary.path)), "importable": str(ready),
            "bytes": summary.bytes, "seconds": round(summary.seconds, 3), "holes": summary.holes,
            "lost_bytes": summary.lost_bytes, "why": summary.why,
        })  # fmt: skip
        return
    if not summary.bytes and not summary.lost_bytes:
        complain(message("live.nothing", source=summary.source))
        return
    if summary.bytes:
        say(message("live.done", path=str(summary.path), mb=summary.bytes / 1e6, minutes=summary.seconds / 60.0,
                    holes=summary.holes))  # fmt: skip
    if ready != summary.path:
        say(message("live.mended", path=str(ready)))
    if summary.lost_bytes:
        complain(message("live.lost_bytes", n=summary.lost_bytes))
    if summary.why:
        complain(summary.why)


def _import(book: Logbook, path: Path, owner: str, answers: dict[str, str], *, as_json: bool) -> None:
    from spooldown import register
    from spooldown.commands.layouts import as_json as outcome_json
    from spooldown.commands.layouts import show
    from spooldown.intake.adding import LogFile, add_file

    outcome = add_file(
        book, LogFile(path, path.name), register.load(book), aircraft=owner, answers=answers,
        mappings=book.mapping_files(),
    )  # fmt: skip
    if as_json:
        say_json(outcome_json(outcome))
    else:
        show([outcome])


def replay(
    flight: FlightWord,
    to: Annotated[
        str,
        typer.Option(help="Where to: - for standard output, pty for a serial port without hardware, udp:PORT, "
                     "udp:HOST:PORT, tcp:HOST:PORT or tcp-listen:PORT."),
    ] = "-",
    speed: Annotated[float, typer.Option(min=0.0, help="How many times as fast; 0 as fast as it is taken.")] = 1.0,
    from_s: Annotated[float, typer.Option("--from", min=0.0, metavar="SECONDS", help="Where to begin.")] = 0.0,
    language: Language = "",
    logbook: Book = None,
) -> None:  # fmt: skip
    """Play a flight of the logbook as a live source: the lines of a device, at their own pace or faster."""
    from reports.words.catalogue import message
    from spooldown.live.replay import paced, play, sink_at
    from spooldown.live.sources.addresses import target_of

    with opened(logbook, language=language) as book:
        flown = book.flight(meant(book, flight))
        flight_data = book.telemetry(flown.flight_id)
        table = flight_data.table
        above = {"Label": label} if (label := flight_data.metadata.get("label", "")) else {}
        above |= {"Aircraft": flown.aircraft} if flown.aircraft else {}
        if flown.utc_start:
            at = flown.utc_start + timedelta(seconds=from_s)
            above["Start"] = at.isoformat(timespec="milliseconds").replace("+00:00", "Z")
        address = target_of(to)
        sink = sink_at(address)
        try:
            if address.listens_outside and address.kind == "tcp-listen":
                complain(message("live.listens_outside", address=str(address)))
            if address.kind != "-":
                _announce(address.kind, sink.name)
                while not sink.wait():
                    time.sleep(0.05)
            play(paced(table, speed=speed, from_s=from_s, above=above), sink)
        except KeyboardInterrupt:
            raise typer.Exit(ExitCode.INTERRUPTED) from None
        finally:
            sink.close()


def _announce(kind: str, name: str) -> None:
    from reports.words.catalogue import message

    take: dict[str, Any] = {"pty": f"serial:{name}", "tcp-listen": name}
    print(message("live.replay_to", name=name), file=sys.stderr, flush=True)
    if kind in take:
        print(message("live.replay_record", command=f"spooldown record {take[kind]}"), file=sys.stderr, flush=True)

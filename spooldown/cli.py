"""The front door ``spooldown``: which commands there are, and how whatever stops one is told."""

from __future__ import annotations

import io
import os
import signal
import sys
import threading
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer

from spooldown.commands import (
    desk,
    fleet,
    flights,
    live,
    logs,
    notes,
    parts,
    reading,
    results,
    upkeep,
)
from spooldown.commands.ground import bench, checklists, range_checks
from spooldown.commands.places import PARTLY
from spooldown.commands.programme import limits, marks, reviews, service, snags
from spooldown.commands.shell import language, owners, usage
from spooldown.commands.shell.grouping import Front, Written
from spooldown.exit_codes import EXIT_CODES_TEXT, ExitCode
from spooldown.problems import Problem, of_the_place
from spooldown.processes.cores import collect_seldom, one_thread_each
from spooldown.settings import LOGBOOK_VARIABLE
from spooldown.terminal import complain, message, tell

COMMANDS: dict[str, dict[str, Written]] = {
    "Logs and notes in": {
        "import": logs.import_logs,
        "remap": logs.remap,
        "note": notes.note,
        "range-check": range_checks.app,
        "bench": bench.app,
        "checklist": checklists.app,
    },
    "While it happens": {
        "record": live.record,
        "replay": live.replay,
    },
    "What flies": {
        "register": parts.register_files,
        "aircraft": parts.aircraft,
        "engines": parts.engines,
        "layouts": parts.layouts,
        "packs": parts.packs,
    },
    "Results": {
        "desk": desk.desk,
        "flights": flights.flights,
        "show": flights.show,
        "pages": results.pages,
        "export": results.export,
        "settings": reading.settings,
    },
    "Monitoring": {
        "limits": limits.app,
        "marks": marks.app,
        "snags": snags.app,
        "remedies": snags.remedies,
        "service": service.app,
        "year": reviews.year,
        "before": reviews.before,
    },
    "The logbook itself": {
        "remove": flights.remove,
        "bin": flights.bin_app,
        "check": upkeep.check,
        "backup": upkeep.backup,
        "restore": upkeep.restore,
    },
    "More": {
        "demo": results.demo,
        "fleet": fleet.app,
    },
}
"""Every command under what it is for, as the help lists them; an application is a group of commands."""


class SpooldownCommands(Front):
    """The commands of ``spooldown``."""

    written = COMMANDS


app = typer.Typer(
    name="spooldown",
    cls=SpooldownCommands,
    help="Log flight sessions of turbine model jets and read what they say: fuel, packs, radio link.",
    epilog=EXIT_CODES_TEXT,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


@app.callback(invoke_without_command=True)
def front(
    context: typer.Context, version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False
) -> None:
    """Log flight sessions of turbine model jets and read what they say: fuel, packs, radio link.

    Without a command the desk opens: everything in the browser of this machine.
    """
    if version:
        from spooldown import __version__

        print(f"spooldown {__version__}")
        raise typer.Exit()
    if context.invoked_subcommand is None:
        tell("cli.opening_desk")
        named = os.environ.get(LOGBOOK_VARIABLE, "")
        desk.desk(logbook=Path(named) if named else None)


def main() -> NoReturn:
    """Run the command; whatever stops it is one sentence and an exit code, never a traceback."""
    from reports.words.reader import reading

    one_thread_each()
    collect_seldom()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal that lacks a letter shows another
            stream.reconfigure(errors="replace")
    if threading.current_thread() is threading.main_thread() and signal.getsignal(signal.SIGTERM) == signal.SIG_DFL:
        # Unwound as any other end: what was begun is undone, temporary files go.
        signal.signal(signal.SIGTERM, lambda *_: sys.exit(ExitCode.ENDED))
    try:
        reader = language.at_start(sys.argv[1:])
    except Problem as problem:
        complain(str(problem))
        sys.exit(problem.exit_code)
    with reading(reader):
        code = _run(reader.language)
    sys.exit(code)


def command_line(spoken: str) -> Any:
    """Every command, each with the option that names the language, its help in the language spoken."""
    whole = typer.main.get_command(app)
    owners.add_option(whole)
    language.add_option(whole)
    language.translate(whole, spoken)
    usage.speak()
    return whole


def _run(spoken: str) -> int:
    """Run the command; returns the exit code that tells what stopped it."""
    from importers.refusal import Refusal

    code: int = ExitCode.OK
    PARTLY.set(False)
    try:
        command_line(spoken)(prog_name="spooldown")
    except Refusal as refusal:
        complain(str(refusal))
        code = ExitCode.REFUSED
    except Problem as problem:
        complain(str(problem))
        code = problem.exit_code
    except BrokenPipeError:
        # The reader of our output has gone; Python must not try to flush to it again.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except SystemExit as end:
        if end.code == ExitCode.INTERRUPTED and _by_keyboard(end):
            complain(message("cli.interrupted"))
        if end.code == ExitCode.ENDED:
            complain(message("cli.ended"))
        if end.code in (None, ExitCode.OK) and PARTLY.get():
            return ExitCode.PARTLY
        raise
    except UnicodeEncodeError as error:
        said = ascii(error.object[max(0, error.start - 20) : error.end + 20])
        complain(message("cli.no_utf8", found=said))
        code = ExitCode.USAGE
    except Exception as error:
        if os.environ.get("SPOOLDOWN_TRACEBACK"):
            raise
        if what := of_the_place(error):
            complain(str(what))
            return ExitCode.LOGBOOK
        complain(message("cli.fault", fault=f"{type(error).__name__}: {error}"))
        code = ExitCode.BUG
    return code


def _by_keyboard(error: BaseException | None) -> bool:
    """Whether Ctrl-C is what led to an error: the command line's library turns it into an exit."""
    while error is not None and not isinstance(error, KeyboardInterrupt):
        error = error.__cause__ or error.__context__
    return error is not None

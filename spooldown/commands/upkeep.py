"""Looking after the logbook: verifying and repairing it, backing it up."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from spooldown.commands.options import AsJson, Book, DryRun
from spooldown.commands.places import local_folder, opened
from spooldown.exit_codes import ExitCode
from spooldown.problems import NotFoundProblem, UsageProblem
from spooldown.settings import logbook_folder
from spooldown.terminal import complain, say, say_json, steps_bar, tell


def check(
    repair: Annotated[bool, typer.Option("--repair", help="Mend what can be mended; nothing is deleted.")] = False,
    logs: Annotated[
        list[Path] | None, typer.Option(help="Logs, or a folder of them, to read damaged flights from again.")
    ] = None,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Verify every file of the logbook, and name each damage in one sentence."""
    from spooldown.addresses import address_of
    from spooldown.logbook.book import Logbook
    from spooldown.logbook.catalogue import CATALOGUE
    from spooldown.upkeep.checking import check as check_folder
    from spooldown.upkeep.checking import check_stored

    if logs and not repair:
        raise UsageProblem("usage.logs_with_repair")
    if address_of(logbook_folder(logbook)) and not repair:
        with opened(logbook) as book, steps_bar(quiet=as_json) as step:
            found = check_stored(book, progress=step)
    else:
        folder = local_folder(logbook)
        if not folder.is_dir():
            raise NotFoundProblem("problem.no_logbook", place=str(folder))
        if not os.path.lexists(folder / CATALOGUE):
            with Logbook(folder) as book:  # an empty folder, as where a share is not mounted, is not a sound logbook
                if not book.exists:
                    raise NotFoundProblem("problem.no_logbook_yet", place=str(folder))
        with steps_bar(quiet=as_json) as step:
            found = check_folder(folder, repair=repair, logs=logs or (), progress=step)
    if as_json:
        say_json({"damage": [{"what": str(d.what), "done": str(d.done or "")} for d in found]})
    else:
        for damage in found:
            say(str(damage) if str(damage).endswith("?") else f"{damage}.")
        if not found:
            tell("cli.all_as_stored")
        elif any(not d.done for d in found) and not repair and not address_of(logbook_folder(logbook)):
            tell("cli.repair_mends")
    if any(not d.done for d in found):
        raise typer.Exit(ExitCode.LOGBOOK)


def backup(
    file: Annotated[Path, typer.Argument(help="The archive to write (ZIP).")],
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Write the whole logbook into one archive, and read it back before it counts."""
    from spooldown.logbook.archive import back_up

    with opened(logbook) as book:
        count = len(book.flight_ids())
        if dry_run:
            tell("cli.would_back_up", place=str(file), flights=count)
            return
        with steps_bar(quiet=False) as step:
            said = back_up(book, file, progress=step)
    tell("cli.backed_up", place=str(file), flights=count)
    for sentence in said:
        complain(str(sentence))
    if said:
        raise typer.Exit(ExitCode.PARTLY)


def restore(
    file: Annotated[Path, typer.Argument(help="An archive that `spooldown backup` wrote.")],
    logbook: Book = None,
) -> None:
    """Unpack a backup into a new folder, verified file by file; --logbook names the folder."""
    from spooldown.logbook.archive import restore as unpack

    folder = local_folder(logbook)
    if not file.is_file():
        raise NotFoundProblem("problem.no_file", path=str(file))
    with steps_bar(quiet=False) as step:
        count = unpack(file, folder, progress=step)
    tell("cli.restored", place=str(folder), flights=count)

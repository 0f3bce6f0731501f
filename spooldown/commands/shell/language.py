"""Which language the command line speaks before a logbook is open, and its help in that language."""

from __future__ import annotations

import functools
import os
import sqlite3
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, suppress
from copy import copy
from functools import partial
from pathlib import Path
from typing import Any

from reports.words.reader import LANGUAGES, Reader
from spooldown.commands.shell.grouping import Front, every
from spooldown.settings import LOGBOOK_VARIABLE, logbook_folder

OPTION = "--language"
HELP = Path(__file__).parent / "help"
"""Help in other languages than the one it is written in: a file a language, the English sentence its key."""


def asked(arguments: Sequence[str]) -> str:
    """The language that the arguments ask for, '' where they do not; ``settings`` keeps it and answers in it, too.

    Examples
    --------
    >>> asked(["flights", "--language", "de"]), asked(["flights"])
    ('de', '')
    """
    return _value(OPTION, arguments)


def at_start(arguments: Sequence[str]) -> Reader:
    """Who reads what is said before, and whatever stops a command: as asked, as set, or as the system is set.

    Raises
    ------
    UsageProblem
        If there are no words in the language asked for.
    """
    from spooldown.preferences import LANGUAGE_VARIABLE, reader_of

    if language := asked(arguments):
        reader = reader_of(None, language)
        os.environ[LANGUAGE_VARIABLE] = language  # for the logbook's reader, and for processes of ours
        return reader
    return reader_of(None, os.environ.get(LANGUAGE_VARIABLE, "") or _kept(arguments))


def add_option(command: Any) -> None:
    """Let every command take the option that names the language, as those do that hand it on themselves."""
    every(command, _with_option)


def _with_option(command: Any) -> None:
    if not hasattr(command, "commands") and all(OPTION not in p.opts for p in command.params):
        option = copy(_option())
        option.expose_value = False  # it has been heeded by then
        command.params.append(option)


@functools.cache
def _option() -> Any:
    """The option as commands have it."""
    import typer

    from spooldown.commands.options import Language

    def command(language: str = "") -> None:
        pass

    command.__annotations__["language"] = Language
    alone = typer.Typer(add_completion=False)
    alone.command()(command)
    return next(p for p in typer.main.get_command(alone).params if OPTION in p.opts)


def translate(command: Any, language: str) -> None:
    """Put the help of a command and of all below it into a language; what has no words there stays as it is."""
    import gettext

    import typer.core

    words = _words(language)

    def translated(text: str) -> str:
        return words.get(" ".join(text.split()), text)

    typer.core._ = translated if words else gettext.gettext  # type: ignore[attr-defined,assignment]  # its headings
    if words:
        every(command, partial(_translate, translated=translated))


def _translate(command: Any, translated: Callable[[str], str]) -> None:
    if isinstance(command, Front):
        command.spoken = translated
    command.get_help_option = partial(_help_option, command.get_help_option, translated)
    command.format_usage = partial(_format_usage, command, translated("Usage:"))
    for thing in (command, *command.params):
        for name in ("help", "short_help", "epilog", "show_default", "rich_help_panel"):
            text = getattr(thing, name, None)
            if isinstance(text, str):
                with suppress(AttributeError):
                    setattr(thing, name, translated(text))


def _format_usage(command: Any, heading: str, context: Any, formatter: Any) -> None:
    pieces = command.collect_usage_pieces(context)
    formatter.write_usage(context.command_path, " ".join(pieces), prefix=f"{heading} ")


def _help_option(made: Any, translated: Any, context: Any) -> Any:
    option = made(context)
    if option is not None:
        option.help = translated(option.help)
    return option


@functools.cache
def _words(language: str) -> Mapping[str, str]:
    path = HELP / f"{language}.toml"
    return tomllib.loads(path.read_text("utf-8")) if language != LANGUAGES[0] and path.is_file() else {}


def _all(command: Any) -> Iterator[Any]:
    yield command
    for below in getattr(command, "commands", {}).values():
        yield from _all(below)


def _value(option: str, arguments: Sequence[str]) -> str:
    for n, word in enumerate(arguments):
        if word == option:
            return arguments[n + 1] if n + 1 < len(arguments) else ""
        if word.startswith(f"{option}="):
            return word.partition("=")[2]
    return ""


def _kept(arguments: Sequence[str]) -> str:
    """The language that the logbook remembers, read past all that opening it would do; '' where there is none."""
    given = _value("--logbook", arguments) or os.environ.get(LOGBOOK_VARIABLE, "")
    with suppress(Exception):  # whatever is wrong with it is said when the command opens it
        catalogue = logbook_folder(Path(given) if given else None) / "catalogue.sqlite"
        if catalogue.is_file():
            with closing(sqlite3.connect(f"{catalogue.absolute().as_uri()}?mode=ro", uri=True)) as db:
                row = db.execute("SELECT value FROM setting WHERE name = 'language'").fetchone()
                return str(row[0]) if row and row[0] in LANGUAGES else ""
    return ""

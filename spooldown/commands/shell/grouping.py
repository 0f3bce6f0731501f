"""How the commands are listed, by what they are for, and built: each only when it is asked for."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Mapping, MutableMapping
from functools import partial
from typing import Any

import typer
from typer import core
from typer.core import TyperGroup

Written = Callable[..., None] | typer.Typer
"""A command as it is written: a function, or an application that is a group of commands."""


class Built(MutableMapping[str, Any]):
    """Commands by name, each built from its function when it is first taken: few of them are, and it takes a while.

    Parameters
    ----------
    make : mapping of str to callable
        What builds each.
    """

    def __init__(self, make: Mapping[str, Callable[[], Any]]) -> None:
        self._make, self._built = dict(make), dict[str, Any]()
        self._changes: list[Callable[[Any], None]] = []

    def change(self, change: Callable[[Any], None]) -> None:
        """Change every command, now or once it is built."""
        self._changes.append(change)
        for command in self._built.values():
            change(command)

    def __getitem__(self, name: str) -> Any:
        if name not in self._built:
            command = self._make[name]()
            for change in self._changes:
                change(command)
            self._built[name] = command
        return self._built[name]

    def __setitem__(self, name: str, command: Any) -> None:
        self._make[name] = lambda: command
        self._built[name] = command

    def __delitem__(self, name: str) -> None:
        del self._make[name]
        self._built.pop(name, None)

    def __iter__(self) -> Iterator[str]:
        return iter(self._make)

    def __len__(self) -> int:
        return len(self._make)

    def __contains__(self, name: object) -> bool:
        return name in self._make


class Grouped(TyperGroup):
    """A group of commands whose help names them section by section and cuts no line.

    A command's section is what it was added with as ``rich_help_panel``.
    """

    def listed(self, ctx: Any) -> Iterator[tuple[str, str, str]]:
        """Section, name and help of each command, in the order they were added."""
        for name in self.list_commands(ctx):
            command = self.get_command(ctx, name)
            if command is not None and not command.hidden:
                section = getattr(command, "rich_help_panel", None) or core._("Commands")  # type: ignore[attr-defined]
                yield section, name, command.help or ""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write each section with its commands."""
        sections: dict[str, list[tuple[str, str]]] = {}
        for section, name, says in self.listed(ctx):
            sections.setdefault(section, []).append((name, first_sentence(says)))
        widest = max(len(name) for rows in sections.values() for name, _ in rows)
        for section, rows in sections.items():
            with formatter.section(section):
                formatter.write_dl([(name.ljust(widest), says) for name, says in rows])


class Front(Grouped):
    """A group whose commands are built only when they are called; its list is made from their functions."""

    written: Mapping[str, Mapping[str, Written]] = {}
    """Every command by name, under its section."""
    spoken: Callable[[str], str] = staticmethod(str)
    """Puts a help text into the language spoken."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(**{**settings, "commands": None})
        self.commands = Built(
            {name: partial(_built, name, section, written)
             for section, commands in self.written.items() for name, written in commands.items()}
        )  # fmt: skip

    def listed(self, ctx: Any) -> Iterator[tuple[str, str, str]]:  # noqa: ARG002 - as in other groups
        """Section, name and help of each command, none of them built."""
        for section, commands in self.written.items():
            for name, written in commands.items():
                says = written.info.help if isinstance(written, typer.Typer) else inspect.getdoc(written)
                yield self.spoken(section), name, self.spoken(says or "")


def _built(name: str, section: str, written: Written) -> Any:
    """A command as the command line takes it."""
    around = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False)
    if isinstance(written, typer.Typer):
        around.add_typer(written, name=name, rich_help_panel=section)
    else:
        around.command(name, rich_help_panel=section)(written)
    return typer.main.get_group(around).commands[name]


def first_sentence(help_text: str) -> str:
    """Give the first paragraph of a help text as one line, without its full stop."""
    return " ".join(inspect.cleandoc(help_text).partition("\n\n")[0].split()).removesuffix(".")


def every(command: Any, change: Callable[[Any], None]) -> None:
    """Change a command and all below it, those too that are not built yet."""
    change(command)
    below = getattr(command, "commands", {})
    if isinstance(below, Built):
        below.change(partial(every, change=change))
    else:
        for one in below.values():
            every(one, change)

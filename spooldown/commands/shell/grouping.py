"""How the commands are listed: by what they are for, each with the whole of its first sentence."""

from __future__ import annotations

import inspect
from typing import Any

from typer import core
from typer.core import TyperGroup


class Grouped(TyperGroup):
    """A group of commands whose help names them section by section and cuts no line.

    A command's section is what it was added with as ``rich_help_panel``.
    """

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write each section with its commands, in the order they were added."""
        sections: dict[str, list[tuple[str, str]]] = {}
        for name in self.list_commands(ctx):
            command = self.get_command(ctx, name)
            if command is not None and not command.hidden:
                section = getattr(command, "rich_help_panel", None) or core._("Commands")  # type: ignore[attr-defined]
                sections.setdefault(section, []).append((name, first_sentence(command.help or "")))
        widest = max(len(name) for rows in sections.values() for name, _ in rows)
        for section, rows in sections.items():
            with formatter.section(section):
                formatter.write_dl([(name.ljust(widest), says) for name, says in rows])


def first_sentence(help_text: str) -> str:
    """Give the first paragraph of a help text as one line, without its full stop."""
    return " ".join(inspect.cleandoc(help_text).partition("\n\n")[0].split()).removesuffix(".")

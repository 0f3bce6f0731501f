"""``--aircraft`` in every command about one aircraft: those that want its name first take the option as well."""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from copy import copy
from functools import partial
from typing import Annotated, Any

from spooldown.commands.shell.grouping import every

OPTION = "--aircraft"


def add_option(command: Any) -> None:
    """Let all commands below this one that want an aircraft's name first take it as an option."""
    every(command, _with_option)


def _with_option(command: Any) -> None:
    first = next((p for p in command.params if p.param_type_name == "argument"), None)
    if first is None or first.name != "aircraft" or hasattr(command, "commands"):
        return
    option = copy(_option())
    option.expose_value = False  # its value is the argument's
    command.params.append(option)
    command.parse_args = partial(_parsed, command.parse_args)


def _parsed(parse: Callable[[Any, list[str]], list[str]], context: Any, arguments: list[str]) -> list[str]:
    return parse(context, moved(arguments))


def moved(arguments: Sequence[str]) -> list[str]:
    """Put the option's value first, as the argument that it stands for.

    Examples
    --------
    >>> moved(["own.toml", "--aircraft", "Tern", "--yes"]), moved(["--aircraft=Tern"]), moved(["Tern"])
    (['Tern', 'own.toml', '--yes'], ['Tern'], ['Tern'])
    """
    for n, word in enumerate(arguments):
        if word == "--":
            break
        if word == OPTION and n + 1 < len(arguments):
            return [arguments[n + 1], *arguments[:n], *arguments[n + 2 :]]
        if word.startswith(f"{OPTION}="):
            return [word.partition("=")[2], *arguments[:n], *arguments[n + 1 :]]
    return list(arguments)


@functools.cache
def _option() -> Any:
    """The option as help shows it and the shell completes it."""
    import typer

    from spooldown.commands.shell.completing import aircraft_names

    def command(aircraft: str = "") -> None:
        pass

    said = typer.Option(help="The same as AIRCRAFT.", autocompletion=aircraft_names)
    command.__annotations__["aircraft"] = Annotated[str, said]
    alone = typer.Typer(add_completion=False)
    alone.command()(command)
    return next(p for p in typer.main.get_command(alone).params if OPTION in p.opts)

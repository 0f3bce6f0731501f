"""What the terminal shows: tables, progress, plain sentences; names from files never become markup or control codes."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from reports.addresses import REPLACEMENT, neutral


def clean(text: object) -> str:
    """Make text from files safe to print: no control characters, no escape sequences, nothing that hides."""
    return neutral(str(text)).replace("\t", REPLACEMENT)


def say(text: str = "") -> None:
    """Print one plain line."""
    print(clean(text))


def complain(text: str) -> None:
    """Print one plain sentence to the error stream."""
    text = clean(text).rstrip()
    print(f"spooldown: {text}{'' if text.endswith(('.', '?', '!')) else '.'}", file=sys.stderr)


def confirmed(question: str) -> bool:
    """Ask; no answer is a no."""
    import typer

    try:
        return typer.confirm(clean(question))
    except typer.Abort:
        return False


def say_json(value: Any) -> None:
    """Print JSON for a script."""
    print(json.dumps(value, ensure_ascii=(sys.stdout.encoding or "").lower() not in {"utf-8", "utf8"}, indent=1))


def table(columns: Sequence[str], rows: Sequence[Sequence[object]], *, numeric: Sequence[int] = ()) -> None:
    """Print a table; ``numeric`` columns are right-aligned. Piped output is not cut to any width."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    made = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for index, name in enumerate(columns):
        made.add_column(Text(name), justify="right" if index in numeric else "left", overflow="fold")
    for row in rows:
        made.add_row(*(Text(clean("" if cell is None else cell)) for cell in row))
    console = Console(width=None if sys.stdout.isatty() else 10_000)
    console.print(made)


@contextmanager
def bytes_bar(total: int, *, quiet: bool) -> Iterator[Callable[[str, int], None]]:
    """Show how many bytes are read, with rate and time left; call with the file's name and bytes so far."""
    with _bar(quiet, total=total, of_bytes=True) as update:
        yield update


@contextmanager
def steps_bar(*, quiet: bool) -> Iterator[Callable[[str, int, int], None]]:
    """Show steps done of a number that becomes known with the first call: what, done, total."""
    with _bar(quiet, total=None, of_bytes=False) as update:
        yield update


@contextmanager
def _bar(quiet: bool, *, total: int | None, of_bytes: bool) -> Iterator[Callable[..., None]]:
    if quiet or not sys.stderr.isatty():
        yield lambda *_: None
        return
    from rich.console import Console
    from rich.markup import escape
    from rich.progress import (
        BarColumn,
        DownloadColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
        TransferSpeedColumn,
    )

    middle = (DownloadColumn(), TransferSpeedColumn()) if of_bytes else (MofNCompleteColumn(),)
    shown = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        *middle,
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    with shown:
        task = shown.add_task("", total=total)
        yield lambda what, done, of=total: shown.update(task, description=escape(clean(what)), completed=done, total=of)

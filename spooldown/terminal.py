"""What the terminal shows: tables, progress, plain sentences; names from files never become markup or control codes."""

from __future__ import annotations

import json
import os
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from reports.addresses import REPLACEMENT, escaped, neutral
from reports.words.units import kept_together


def clean(text: object) -> str:
    """Make text from files safe to print: no control characters, no escape sequences, nothing that hides."""
    return neutral(str(text)).replace("\t", REPLACEMENT)


def say(text: str = "") -> None:
    """Print one plain line."""
    print(clean(text))


def message(code: str, **values: Any) -> str:
    """One line of the catalogue in the reader's language; plain blanks, so that it can be searched."""
    from reports.words.plain import plain

    if (said := plain(code, values)) is not None:
        return said
    from reports.words.catalogue import message as worded

    return worded(code, **values).replace("\u00a0", " ")


def tell(code: str, **values: Any) -> None:
    """Print one line of the catalogue in the reader's language."""
    say(message(code, **values))


def complain(text: str) -> None:
    """Print one plain sentence to the error stream."""
    text = clean(text).rstrip()
    print(f"spooldown: {text}{'' if text.endswith(('.', '?', '!')) else '.'}", file=sys.stderr)


def confirmed(code: str, **values: Any) -> bool:
    """Ask a question of the catalogue; no answer is a no. ``y`` is a yes in every language, ``j`` in German too."""
    asked = code if " " in code else message(code, **values)
    print(f"{clean(asked)} [{message('cli.yes_letter')}/N]: ", end="", flush=True)
    answer = sys.stdin.readline().strip().casefold()
    return answer in {"y", "yes", message("cli.yes_letter"), message("cli.yes")}


def headings(*keys: str) -> tuple[str, ...]:
    """The headings of a table in the reader's language, by their keys in the catalogue."""
    return tuple(message(f"cli.head.{key}") for key in keys)


def say_json(value: Any) -> None:
    """Print JSON for a script, which a person may read."""
    plain = (sys.stdout.encoding or "").lower() not in {"utf-8", "utf8"}
    print(escaped(json.dumps(value, ensure_ascii=plain, indent=1)))


def columns_there() -> int | None:
    """How wide the terminal is; ``None`` where output goes to a file or another program."""
    if sys.stdout.isatty() or os.environ.get("COLUMNS", "").isdecimal():
        return shutil.get_terminal_size((80, 24)).columns
    return None


def wrapped(text: str, indent: int = 0) -> str:
    """Break a line into lines of the terminal's width, at most 80 characters."""
    width = min(columns_there() or 80, 80)
    return textwrap.fill(kept_together(clean(text)), width, subsequent_indent=" " * indent, break_on_hyphens=False)


def shortened(text: str) -> str:
    """Cut a line to the terminal's width, at most 80 characters, with a mark where something is left out."""
    width, text = min(columns_there() or 80, 80), clean(text)
    return text if len(text) <= width else text[: width - 1].rstrip() + "…"


def table(
    columns: Sequence[str],
    rows: Sequence[Sequence[object]],
    *,
    numeric: Sequence[int] = (),
    optional: Sequence[int] = (),
) -> None:
    """Print a table; ``numeric`` columns are right-aligned. Piped output is not cut to any width.

    ``optional`` columns are left out, in that order, while the table is wider than the terminal; the first column,
    which names the row, is never broken.
    """
    from rich import box
    from rich.console import Console
    from rich.measure import Measurement
    from rich.table import Table
    from rich.text import Text

    console = Console(width=columns_there() or 10_000)

    def made(left_out: set[int]) -> Table:
        out = Table(box=box.SIMPLE_HEAD, pad_edge=False)
        for index, name in enumerate(columns):
            if index not in left_out:
                right = index in numeric
                out.add_column(Text(name), justify="right" if right else "left", overflow="fold", no_wrap=index == 0)
        for row in rows:
            cells = [c for index, c in enumerate(row) if index not in left_out]
            out.add_row(*(Text(clean("" if cell is None else cell)) for cell in cells))
        return out

    gone: set[int] = set()
    for index in optional:
        if Measurement.get(console, console.options.update(max_width=10_000), made(gone)).maximum <= console.width:
            break
        gone.add(index)
    console.print(made(gone))


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

"""The live view in a terminal: one calm screen, or plain lines where there is none."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from reports.words.catalogue import message
from reports.words.names import names_on, naming
from spooldown.live.picture import Picture, event_text, passed_text, picture
from spooldown.live.watch import Watch
from spooldown.terminal import clean, say

if TYPE_CHECKING:
    from rich.console import Group

DRAW_S = 0.5
PLAIN_S = 5.0
"""How often the plain view says how things are; events and limits are said at once."""
BELL = "\a"


def show(watch: Watch, going: Callable[[], bool], *, plain: bool, bell: bool) -> None:
    """Show a recording until it no longer goes on; limits ring the bell."""
    if plain:
        _lines(watch, going, bell=bell)
    else:
        _screen(watch, going, bell=bell)


def _screen(watch: Watch, going: Callable[[], bool], *, bell: bool) -> None:
    from rich.console import Console
    from rich.live import Live

    console = Console(highlight=False)
    rung = 0
    with Live(drawn(picture(watch)), console=console, auto_refresh=False, screen=False) as live:
        while going():
            now = picture(watch)
            live.update(drawn(now, console.height), refresh=True)
            if bell and now.count > rung:
                console.bell()
            rung = now.count
            time.sleep(DRAW_S)
        live.update(drawn(picture(watch), console.height), refresh=True)


def drawn(now: Picture, height: int = 60) -> Group:
    """Draw the picture for a terminal."""
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    head = Text.assemble((now.elapsed, "bold"), "  ", (clean(now.state), "bold yellow" if now.warn else ""))
    parts: list[Text | Table] = [head, Text(clean(f"{now.source} → {now.file} · {now.size}"), style="dim")]
    parts.append(Text(now.caution, style="dim"))
    parts += [Text("! " + clean(p), style="bold red") for p in now.passed]
    parts += [Text(clean(h), style="yellow") for h in now.hints]
    table = Table(box=None, pad_edge=False, show_header=False, expand=False)
    table.add_column(no_wrap=True)
    table.add_column(justify="right", no_wrap=True)
    table.add_column(overflow="fold", style="dim")
    for group in now.groups:
        table.add_row(Text(group.title, style="bold underline"), "", "")
        for line in group.lines:
            style = "bold red" if line.passed else "dim" if line.old else ""
            value = Text(("! " if line.passed else "") + clean(line.value), style=style)
            table.add_row(Text(clean(line.label)), value, Text(clean(line.beside)))
    parts.append(table)
    room = max(2, height - 8 - sum(len(g.lines) + 1 for g in now.groups))
    parts += [Text(clean(e), style="dim") for e in now.events[:room]]
    parts.append(Text(message("live.how_to_end"), style="dim"))
    return Group(*parts)


def _lines(watch: Watch, going: Callable[[], bool], *, bell: bool) -> None:
    say(message("live.caution"))
    told, spoken, seen = 0.0, 0, 0
    while True:
        on = going()
        with watch.lock:
            fresh_events = list(watch.events)[seen - watch.seen :] if watch.seen > seen else []
            fresh_limits = list(watch.spoken)[spoken - watch.count :] if watch.count > spoken else []
            seen, spoken = watch.seen, watch.count
        for event in fresh_events:
            say(event_text(event))
        for _, passed in fresh_limits:
            with naming(names_on(watch.aircraft)):
                say("! " + passed_text(passed))
            if bell and sys.stdout.isatty():
                sys.stdout.write(BELL)
        now = time.monotonic()
        if on and now - told >= PLAIN_S:
            told = now
            for line in summary(picture(watch)):
                say(line)
            sys.stdout.flush()
        if not on:
            return
        time.sleep(DRAW_S)


def summary(now: Picture) -> list[str]:
    """The picture in a few lines."""
    lines = [f"{now.elapsed} {now.state} ({now.size})"]
    lines += now.hints
    for group in now.groups:
        lines.append(f"  {group.title}: " + "; ".join(
            f"{'! ' if line.passed else ''}{line.label} {line.value}" for line in group.lines))  # fmt: skip
    return lines

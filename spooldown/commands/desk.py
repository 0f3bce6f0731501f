"""The desk: ``spooldown desk``."""

from __future__ import annotations

from typing import Annotated

import typer

from spooldown.commands.options import Book
from spooldown.commands.places import local_folder
from spooldown.problems import UsageProblem
from spooldown.terminal import say


def desk(
    port: Annotated[
        int | None, typer.Option(min=1, max=65535, help="Where to listen.", show_default="8765 or any free one")
    ] = None,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the browser.")] = True,
    lan: Annotated[bool, typer.Option("--lan", help="Also let paired phones on this network in.")] = False,
    logbook: Book = None,
) -> None:
    """Open the desk: everything without a terminal, in the browser of this machine."""
    import sys

    from reports.words.reader import reading
    from spooldown.desk.serve import serve
    from spooldown.logbook.book import Logbook
    from spooldown.preferences import reader_of

    def say_now(text: str) -> None:
        say(text)
        sys.stdout.flush()  # whoever reads through a pipe waits for the way in

    folder = local_folder(logbook)
    with Logbook(folder) as book:
        who = reader_of(book)
    with reading(who):
        serve(folder, port=port, open_browser=browser, lan=_own_address() if lan else "", say=say_now)


def _own_address() -> str:
    """Find this machine's address on its network: the one it would send from; nothing is sent to find it."""
    import socket

    from reports.words.catalogue import message

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # TEST-NET-1 of RFC 5737: a route is looked up, no packet leaves
            found = str(probe.getsockname()[0])
        except OSError:
            found = ""
    if not found or found.startswith("127."):
        raise UsageProblem(message("desk.terminal.no_network"))
    return found

"""Many flights on a cluster: ``spooldown fleet build``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from spooldown.commands.options import AsJson, Book
from spooldown.commands.places import again_where_changed, end_partly, opened
from spooldown.commands.shell.grouping import Grouped
from spooldown.problems import UsageProblem, writing_to
from spooldown.terminal import say, say_json, steps_bar, tell

app = typer.Typer(
    cls=Grouped, help="Work many flights out on a Dask cluster.", no_args_is_help=True, rich_markup_mode=None
)


@app.callback()
def fleet() -> None:
    """Work many flights out on a Dask cluster."""


@app.command()
@again_where_changed
def build(
    scheduler: Annotated[
        str, typer.Option(metavar="ADDRESS", help="A running scheduler.", show_default="a cluster of this machine")
    ] = "",
    workers: Annotated[int, typer.Option(min=1, help="Processes of a cluster of this machine.")] = 2,
    out: Annotated[Path | None, typer.Option(help="Folder for the pages.", show_default="pages in the logbook")] = None,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Work out every new flight on the cluster, then build the pages here."""
    from spooldown import register
    from spooldown.fleet.cluster import connected
    from spooldown.site import build as build_pages
    from spooldown.site import site_of

    with opened(logbook) as book:
        if book.address and out is None:
            raise UsageProblem("usage.stored_read_only")
        folder = out or book.folder / "pages"
        known = register.readable(book)
        with connected(scheduler, workers) as cluster, steps_bar(quiet=as_json) as step:
            site = site_of(book, known, progress=step, run=cluster.spread)
        book.still_there()
        with steps_bar(quiet=as_json) as step, writing_to(folder):
            built = build_pages(book, site, folder, step)
    if as_json:
        failed = [{"flight": f.flight_id, "why": str(f.why)} for f in built.failed]
        say_json({"page": str(built.start.resolve()), "written": built.written, "kept": built.kept, "failed": failed})
    else:
        tell("cli.pages_built", written=built.written, kept=built.kept, removed=built.removed)
        say(str(built.start.resolve()))
    end_partly([f.why for f in built.failed], book.left_out)

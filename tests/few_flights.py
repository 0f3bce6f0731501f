"""A logbook of some of the invented scenario's flights: all kinds of them, in a third of the time."""

from __future__ import annotations

import shutil
from pathlib import Path

from spooldown import demo

LOGS = (
    *("tern/tern-2026-04-18.csv", "tern/tern-2026-05-10.csv", "tern/tern-2026-06-20-two.csv"),
    *("tern/tern-2026-07-04.csv", "tern/tern-2026-09-19.csv", "plover/plover-2026-05-03.csv"),
    *("plover/plover-2026-06-28.csv", "field_sheet.csv", "range_check.csv"),
)


def fill(place: Path) -> Path:
    """Make the logbook; returns its folder."""
    samples = demo.sample_folder()
    some = place / "some"
    shutil.copytree(samples / "aircraft", some / "aircraft")
    for name in LOGS:
        (some / name).parent.mkdir(exist_ok=True)
        shutil.copy(samples / name, some / name)
    names = tuple(name.rpartition("/")[2] for name in LOGS)
    sheet = some / "field_sheet.csv"
    head, *rows = sheet.read_text("utf-8").splitlines(keepends=True)
    sheet.write_text(head + "".join(row for row in rows if row.startswith(names)), "utf-8")
    with demo.fresh(place / "demo") as book:
        demo.fill(book, some)
        return book.folder

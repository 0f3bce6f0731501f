"""A logbook that grew flight by flight has the very pages of one that was built at once."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from made import START, draft, register_example, source
from msgspec.structs import replace

from analyser.core.aircraft import FuelNote
from reports.pages import flight
from reports.site import build_site
from spooldown import register
from spooldown.logbook import columns
from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from spooldown.site import site_of


def build(book: Logbook, folder: Path) -> dict[str, bytes]:
    build_site(replace(site_of(book, register.load(book)), generated="one day"), folder)
    pages = {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    return {path: data for path, data in pages.items() if not path.startswith(".")}


def at_once(book: Logbook, place: Path) -> dict[str, bytes]:
    """The pages of a copy in which nothing is kept."""
    made = (book.cache_folder.name, columns.FOLDER, "pages")
    shutil.copytree(book.folder, place / "book", ignore=lambda _, names: [n for n in names if n in made])
    with Logbook(place / "book") as copy:
        return build(copy, place / "pages")


def test_pages_are_the_same_whatever_the_way_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(columns, "GROUP_ROWS", 2)  # as tens of thousands of flights lie in their tables
    with Logbook(tmp_path / "book") as book:
        register_example(book)

        def fly(n: int, day: int | None, aircraft: str = "Heron") -> str:
            start = None if day is None else START + timedelta(days=day)
            found = book.add([source(f"{n}.csv", f"{n:02}")], [draft(rows=400 + n, utc_start=start)], aircraft=aircraft)
            return found[0]

        first = [fly(n, n) for n in range(3)]
        build(book, tmp_path / "pages")
        fly(3, 1, "Tern")  # another aircraft, on a day that the first flew too
        other = fly(7, 2, "Tern")
        build(book, tmp_path / "pages")
        fly(4, -2)  # before all others: every number after it is another one
        fly(5, None)
        book.note({first[1]: FlightNote(remarks="calm <b>air</b>", fuel={"main": FuelNote(put_in_ml=900.0)})})
        book.remove([first[2]])
        grown = build(book, tmp_path / "pages")
        whole = at_once(book, tmp_path / "again")
        assert grown.keys() == whole.keys()
        assert [path for path in whole if grown[path] != whole[path]] == []
        # One flight of one aircraft more leaves the other's pages as they are.
        before = {p: p.stat().st_mtime_ns for p in (tmp_path / "pages").rglob("*") if p.suffix in (".html", ".js")}
        fly(6, 9, "Tern")
        drawn: list[str] = []
        whole_page = flight.render
        monkeypatch.setattr(flight, "render", lambda f, *more: drawn.append(f.record.flight_id) or whole_page(f, *more))
        grown = build(book, tmp_path / "pages")
        assert len(drawn) == 1, "the one before it only leads to it now"
        assert other not in drawn
        written = {p.name for p, then in before.items() if p.stat().st_mtime_ns != then}
        assert not [name for name in written if name.startswith("heron")]
        assert f"{other}.html" in written
        assert not {f"{other}-card.html", f"{other}.js"} & written, "they lead to no other flight"
        whole = at_once(book, tmp_path / "once more")
        assert [path for path in whole if grown[path] != whole[path]] == []

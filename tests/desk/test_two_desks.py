"""Two desks of one logbook: what one of them keeps, the other does not write over or take back unseen."""

from __future__ import annotations

import hashlib

import pytest

from importers.refusal import Refusal
from spooldown import register
from spooldown.judging.files import save, text_of
from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from spooldown.problems import LogbookProblem
from spooldown.programme.snags import all_snags
from spooldown.upkeep.checking import check
from tests.desk.conftest import Browser
from tests.spooldown.made import draft, register_example, source

LIMITS = '[[limits]]\nname = "a"\nevent = "sag"\nlevel = "act"\n# {}\n'
SINCE = "changed again since"


@pytest.fixture
def flight(browser: Browser) -> str:
    with browser.desk.book() as book:
        register_example(book)
        return book.add([source()], [draft(rows=60)], aircraft="Heron")[0]


def offered(browser: Browser) -> str:
    """The change that the next page offers to take back."""
    return str(browser.get("/flights").text.partition('name="change" value="')[2].partition('"')[0])


FORMS = {
    "note": ("/flights/{}/note", {"remarks": "one"}, {"remarks": "two"}),
    "snag": ("/programme/Heron/snags/1", {"do": "note", "what": "one"}, {"do": "note", "what": "two"}),
    "service": (
        "/programme/Heron/service", {"do": "add", "name": "Pump", "kind": "other"},
        {"do": "done", "component": "Pump", "what": "two"},
    ),
    "list": ("/checklist/Heron", {"items": "one"}, {"items": "two"}),
    "ticks": ("/flights/{}/checklist", {"item": "one"}, {"item": "two"}),
    "settings": ("/settings", {"title": "one"}, {"title": "two"}),
}  # fmt: skip


@pytest.mark.parametrize("what", FORMS)
def test_a_change_that_was_changed_again_is_not_taken_back(browser: Browser, flight: str, what: str) -> None:
    browser.post("/programme/Heron", {"title": "loose door"})
    place, first, again = FORMS[what]
    assert browser.post(place.format(flight), first).status_code == 303
    change = offered(browser)
    with browser.desk.book() as book:  # what somebody else enters there meanwhile is another thing
        book.add_range_checks([])
        book.change_records("mark", lambda _: {"other": "{}"})
    assert browser.post(place.format(flight), again).status_code == 303
    second = offered(browser)
    answer = browser.post("/undo", {"change": change})
    assert (answer.status_code, SINCE in answer.text) == (422, True)
    assert browser.post("/undo", {"change": second}).status_code == 303  # and this one nobody changed
    assert browser.post("/undo", {"change": second}).status_code == 409


def test_taking_a_snag_back_leaves_what_others_entered_since(browser: Browser, flight: str) -> None:
    browser.post("/programme/Heron", {"title": "mine"})
    change = offered(browser)
    with browser.desk.book() as book:
        from analyser.programme.snags import Snag
        from spooldown.programme import snags

        (mine,) = all_snags(book)
        snags.add(book, Snag(0, "Heron", "", "", "theirs", mine.day))
        book.note({flight: FlightNote(remarks="theirs")})
    assert browser.post("/undo", {"change": change}).status_code == 303
    with browser.desk.book() as book:
        assert [s.title for s in all_snags(book)] == ["theirs"]
        assert book.notes()[flight].remarks == "theirs"


def test_limits_kept_at_another_desk_are_not_written_over_unseen(browser: Browser, flight: str) -> None:
    place, there = "/programme/Heron/limits", hashlib.sha256(b"").hexdigest()[:16]
    assert browser.post(place, {"text": LIMITS.format("mine"), "mark": there}).status_code == 303
    change = offered(browser)
    answer = browser.post(place, {"text": LIMITS.format("theirs"), "mark": there})
    assert (answer.status_code, "changed this file meanwhile" in answer.text) == (422, True)
    with browser.desk.book() as book:
        assert text_of(book, "Heron") == LIMITS.format("mine")
        save(book, "Heron", LIMITS.format("from the terminal"))
    assert browser.post("/undo", {"change": change}).status_code == 422
    with browser.desk.book() as book:
        assert text_of(book, "Heron") == LIMITS.format("from the terminal")


def test_what_does_not_fit_any_more_once_it_is_kept_is_not_kept(tmp_path) -> None:  # type: ignore[no-untyped-def]
    """Two register at once: each was checked before the other kept its file."""
    pack = b'[[packs]]\nname = "P%d"\n'
    with Logbook(tmp_path / "book") as book, Logbook(tmp_path / "book") as other:
        found = register.check(book, register.load(book), register.parse(pack % 1, "packs.toml"), pack % 1)
        register.add(other, pack % 2, "packs.toml")
        with pytest.raises(LogbookProblem, match="wait for it and try again"):
            register.keep(book, found)
        register.add(book, pack % 1, "more.toml")
        twice = register.check(book, register.load(book), register.parse(pack % 3, "third.toml"), pack % 3)
        register.add(other, pack % 3, "fourth.toml")
        with pytest.raises(Refusal, match="P3"):
            register.keep(book, twice)
        assert sorted(register.load(book).packs) == ["P1", "P2", "P3"]
    assert check(tmp_path / "book") == []

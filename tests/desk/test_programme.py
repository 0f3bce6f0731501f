"""The programme on the desk: snags, remedies, verdicts, events marked one by one and many at once, limits tried."""

from __future__ import annotations

import re

from analyser.core.events import Level
from spooldown import register
from spooldown.judging.files import own_limits
from spooldown.judging.marks import all_marks
from spooldown.programme.snags import all_snags
from spooldown.work.results import analysed
from tests.desk.conftest import Browser, flight_of, made  # noqa: F401 - fixtures


def undo(browser: Browser, page: str) -> str:
    """Take the last change back from the page that offers it; returns that page."""
    shown = browser.get(page).text
    change = re.search(r'name="change" value="([0-9a-f]+)"', shown)
    assert change
    assert browser.post("/undo", {"change": change[1]}).status_code == 303
    return shown


def test_a_snag_from_seen_to_closed(flown: Browser) -> None:
    assert "Tern" in flown.get("/programme").text
    page = flown.get("/programme/Tern")
    assert page.status_code == 200
    assert "engine.left" in page.text
    cells = {"title": "left <engine> hot", "part": "engine.left", "figure": "engine.start_egt", "day": "2026-04-10"}
    assert flown.post("/programme/Tern", cells).status_code == 303
    with flown.desk.book() as book:
        (snag,) = all_snags(book)
    assert (snag.part, snag.measure, snag.day.isoformat()) == ("engine.left", "engine.start_egt", "2026-04-10")
    assert "left &lt;engine&gt; hot" in flown.get("/programme/Tern").text
    early = flown.post("/programme/Tern/snags/1", {"do": "remedy", "what": "x", "day": "2026-04-09"})
    assert early.status_code == 422
    assert "cannot be against S1" in early.text
    assert flown.post(
        "/programme/Tern/snags/1", {"do": "remedy", "what": "injector cleaned", "day": "2026-04-18"}
    ).status_code == 303  # fmt: skip
    shown = flown.get("/programme/Tern").text
    assert "injector cleaned" in shown
    assert "Can&#39;t tell yet" in shown or "Can't tell yet" in shown
    assert flown.post("/programme/Tern/snags/1", {"do": "close", "what": "gone"}).status_code == 303
    with flown.desk.book() as book:
        assert not all_snags(book)[0].open
    undo(flown, "/programme/Tern")
    with flown.desk.book() as book:
        assert all_snags(book)[0].open


def test_slips_are_told_and_nothing_is_kept(flown: Browser) -> None:
    for cells, says in (
        ({"title": ""}, "what is wrong"),
        ({"title": "x", "day": "2999-01-01"}, "yet to come"),
        ({"title": "x", "part": "engine.left", "figure": "tank.margin"}, "is no figure of"),
        ({"title": "x", "worth": "much"}, "above zero"),
        ({"step": "9"}, "no step 9"),
    ):
        answer = flown.post("/programme/Tern", cells)
        assert answer.status_code == 422, cells
        assert says in answer.text
    with flown.desk.book() as book:
        assert all_snags(book) == []
    assert flown.get("/programme/Nobody").status_code == 404
    assert flown.post("/programme/Tern/snags/7", {"do": "close"}).status_code == 422


def test_events_are_marked_many_at_once_and_taken_back(flown: Browser) -> None:
    page = flown.get("/programme/Tern/events").text
    keys = re.findall(r'name="event" value="([^"]+)"', page)
    assert len(keys) >= 2
    chosen = {"event": keys[:2], "verdict": "nuisance", "reason": "test on the bench"}
    assert flown.post("/programme/Tern/events", chosen).status_code == 303
    with flown.desk.book() as book:
        marks = list(all_marks(book).values())
        assert {(str(m.verdict), m.reason) for m in marks} == {("nuisance", "test on the bench")}
        assert len(marks) == 2
        (one,) = analysed(book, register.load(book))
    assert sum(e.mark == "nuisance" and e.level is Level.FINE for e in one.record.result.events()) == 2
    assert "nuisance" in undo(flown, f"/programme/Tern/events?flight={flight_of(flown)}")
    with flown.desk.book() as book:
        assert all_marks(book) == {}
    assert flown.post("/programme/Tern/events", {"verdict": "nuisance"}).status_code == 422
    assert flown.post("/programme/Tern/events", {"event": keys[0], "verdict": "maybe"}).status_code == 422
    assert flown.get("/programme/Tern/events?flight=nothing").status_code == 404


def test_limits_are_checked_tried_and_kept(flown: Browser) -> None:
    page = flown.get("/programme/Tern/limits").text
    found = re.search(r"<textarea[^>]*>(.*?)</textarea>", page, re.DOTALL)
    mark = re.search(r'name="mark" value="([0-9a-f]+)"', page)
    assert found
    assert mark
    from html import unescape

    text = unescape(found[1])
    checked = flown.post("/programme/Tern/limits/check", {"text": text}).json()
    assert checked["problem"] == ""
    wrong = flown.post("/programme/Tern/limits/check", {"text": text.replace('"sag"', '"sagg"')}).json()
    assert "sagg" in wrong["problem"]
    assert wrong["line"] > 1
    stricter = text.replace("above = {watch = 15}", "above = {act = 1}")
    tried = flown.post("/programme/Tern/limits", {"text": stricter, "mark": mark[1], "try": "1"})
    assert tried.status_code == 200
    assert "judged otherwise" in tried.text
    with flown.desk.book() as book:
        assert own_limits(book, "Tern") == ()
    assert flown.post("/programme/Tern/limits", {"text": stricter, "mark": mark[1]}).status_code == 303
    with flown.desk.book() as book:
        assert own_limits(book, "Tern")
    undo(flown, "/programme/Tern/limits")
    stale = flown.post("/programme/Tern/limits", {"text": text, "mark": "0123456789abcdef"})
    assert stale.status_code == 422
    with flown.desk.book() as book:
        assert own_limits(book, "Tern") == ()


def test_nobody_changes_anything_without_the_token(flown: Browser) -> None:
    for path in ("/programme/Tern", "/programme/Tern/events", "/programme/Tern/limits", "/programme/Tern/snags/1"):
        assert flown.client.post(path, data={"title": "x"}).status_code == 403


def test_an_event_and_a_remark_become_snags(flown: Browser) -> None:
    key = re.findall(r'name="event" value="([^"]+)"', flown.get("/programme/Tern/events").text)[0]
    assert flown.post("/programme/Tern/events", {"event": key, "verdict": "snag"}).status_code == 303
    with flown.desk.book() as book:
        (snag,) = all_snags(book)
        assert (snag.came, snag.flight_id) == ("event", flight_of(flown))
        from spooldown.logbook.note import FlightNote

        book.note({flight_of(flown): FlightNote(remarks="left wheel <loose>")})
    assert "left wheel &lt;loose&gt;" in flown.get("/programme/Tern").text
    assert flown.post("/programme/Tern", {"remark": flight_of(flown)}).status_code == 303
    with flown.desk.book() as book:
        assert [(s.came, s.title) for s in all_snags(book)][1:] == [("remark", "left wheel <loose>")]
    assert flown.post("/programme/Tern", {"remark": "nothing"}).status_code == 404


def test_service_on_the_desk(flown: Browser) -> None:
    assert flown.get("/programme/Tern/service").status_code == 200
    added = {"do": "add", "name": "main <switch>", "kind": "switch", "months": "24", "since": "2026-01-01"}
    assert flown.post("/programme/Tern/service", added).status_code == 303
    page = flown.get("/programme/Tern/service").text
    assert "main &lt;switch&gt;" in page
    assert flown.post(
        "/programme/Tern/service", {"do": "done", "component": "main <switch>", "what": "contacts", "day": "2026-04-01"}
    ).status_code == 303  # fmt: skip
    assert "2026-04-01" in undo(flown, "/programme/Tern/service")
    assert "2026-04-01" not in flown.get("/programme/Tern/service").text
    for cells, says in (
        ({"do": "add", "name": ""}, "a name"),
        ({"do": "add", "name": "x", "hours": "-1"}, "above zero"),
        ({"do": "done", "component": "nothing"}, "no component"),
        ({"do": "move", "component": "main <switch>", "aircraft": "Nobody"}, "choose the aircraft"),
    ):
        answer = flown.post("/programme/Tern/service", cells)
        assert answer.status_code == 422, cells
        told = re.search(r'class="problem" role="alert">([^<]*)', answer.text)
        assert told
        assert says in told[1], told[1]


def test_a_screen_says_why_it_lacks_flights(flown: Browser) -> None:
    with flown.desk.book() as book:
        path = book.limits_folder / "tern.toml"
    path.parent.mkdir(exist_ok=True)
    path.write_text("[[limits]]\nname = 3\n")
    for place in ("events", "service"):
        answer = flown.get(f"/programme/Tern/{place}")
        assert (answer.status_code, "limits/tern.toml" in answer.text) == (200, True)
    assert "limits/tern.toml" not in flown.get("/flights").text

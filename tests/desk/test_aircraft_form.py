"""The aircraft's form: what it asks for, what it writes, and what it leaves as it was."""

from __future__ import annotations

import hashlib
import re
import tomllib
from pathlib import Path

import pytest

from analyser.core.aircraft import Aircraft, FuelNote
from reports.words.catalogue import LANGUAGES, Reader, has, reading
from spooldown import register
from spooldown.desk.forms.fields import KINDS, every_key
from spooldown.desk.forms.toml_text import values_of, with_typed
from spooldown.desk.session import Desk
from spooldown.logbook.note import FlightNote
from tests.desk.conftest import SAMPLES, TERN, Browser, flight_of

TERN_TOML = (SAMPLES / "aircraft" / "tern.toml").read_text("utf-8")


def test_every_key_of_the_register_is_on_the_form_and_worded() -> None:
    keys = {k for kind in (Aircraft, *KINDS.values()) for k in every_key(kind)}
    assert {"max_egt_c", "reserve.percent", "fuel.oil_percent", "retire.capacity_percent", "in_service_since"} <= keys
    for language in LANGUAGES:
        with reading(Reader(language)):
            assert [k for k in sorted(keys) if not has(f"desk.field.{k.replace('.', '_')}")] == []


@pytest.mark.parametrize("text", [TERN_TOML, register.EXAMPLE, '# only a remark\n[[packs]]\nname = "A" # mine\n'])
def test_a_form_that_was_not_touched_changes_no_byte(text: str) -> None:
    assert with_typed(text, values_of(text)) == text


def test_one_field_changes_one_line() -> None:
    typed = {**values_of(register.EXAMPLE), "engines.0.max_rpm": "118000"}
    before, after = register.EXAMPLE.splitlines(), with_typed(register.EXAMPLE, typed).splitlines()
    assert [b for a, b in zip(before, after, strict=True) if a != b] == [
        "max_rpm = 118000          # from the maker's manual"
    ]


@pytest.mark.parametrize("text", [TERN_TOML, register.EXAMPLE])
def test_what_is_written_reads_back_by_another_reader(text: str) -> None:
    """The standard library's reader of TOML is the outside witness."""
    typed = {
        **values_of(text), "tanks.0.unusable_ml": "75,5", "aircraft.brown_out_v": "",
        "engines.0.last_service": "2026-03-01",
        "tanks.2.name": "aux", "packs.1.name": "B2", "packs.1.chemistry": "nimh", "engines.0.idle_rpm": "31000",
    }  # fmt: skip
    tree = tomllib.loads(with_typed(text, typed))
    assert tree["tanks"][0]["unusable_ml"] == 75.5
    assert "brown_out_v" not in tree["aircraft"]
    assert tree["engines"][0]["last_service"].isoformat() == "2026-03-01"
    assert tree["tanks"][-1] == {"name": "aux"}
    assert tree["packs"][-1] == {"name": "B2", "chemistry": "nimh"}
    assert tree["layouts"] == tomllib.loads(text)["layouts"], "what the form does not show stays"


def test_a_part_is_taken_out() -> None:
    text = with_typed(TERN_TOML, values_of(TERN_TOML), frozenset({"engines.1", "tanks.0", "tanks.1"}))
    tree = tomllib.loads(text)
    assert [e["name"] for e in tree["engines"]] == ["left"]
    assert "tanks" not in tree
    assert text.startswith("# Invented scenario")


def form_in(page: str) -> dict[str, str]:
    """What a browser would send back of a page's form."""
    out = {}
    for tag in re.findall(r"<input [^>]+>", page):
        name, value = re.search(r'name="([^"]+)"', tag), re.search(r'value="([^"]*)"', tag)
        if name and "checkbox" not in tag:
            out[name[1]] = value[1] if value else ""
    for name, inner in re.findall(r'<select name="([^"]+)">(.*?)</select>', page):
        chosen = re.search(r'value="([^"]*)" selected', inner)
        out[name] = chosen[1] if chosen else ""
    return out


def tern_file(desk: Desk) -> tuple[str, str]:
    with desk.book() as book:
        path = next(p for p in book.register_folder.glob("*.toml") if "tern" in p.name)
        return path.name, path.read_text("utf-8")


def test_a_form_is_saved_checked_and_taken_back(flown: Browser) -> None:
    name, before = tern_file(flown.desk)
    page = flown.get(f"/aircraft/{name}/form").text
    form = form_in(page)
    assert form["engines.1.max_rpm"] == "122000"
    bad = flown.post(f"/aircraft/{name}/form/check", {**form, "engines.1.max_rpm": "fast"}).json()
    assert bad["at"] == "engines.1.max_rpm"
    assert bad["problem"].startswith("Engine right, Highest speed: found text ('fast'), expected a number")
    assert flown.post(f"/aircraft/{name}/form/check", form).json() == {"problem": "", "holds": ["Tern"]}
    refused = flown.post(f"/aircraft/{name}/form", {**form, "tanks.0.capacity_ml": "-3"})
    assert refused.status_code == 422
    assert "found −3, expected a number from 1 to" in refused.text
    assert 'value="-3"' in refused.text
    assert tern_file(flown.desk)[1] == before
    assert flown.post(f"/aircraft/{name}/form", {**form, "engines.1.max_rpm": "121000"}).status_code == 303
    after = tern_file(flown.desk)[1]
    assert after == before.replace("max_rpm = 122000.0", "max_rpm = 121000", 2).replace("121000", "122000.0", 1)
    assert after.count("\n") == before.count("\n")
    late = flown.post(f"/aircraft/{name}/form", {**form, "aircraft.mass_kg": "23"})
    assert late.status_code == 409
    assert "Engine 2, Highest speed: 121000" in late.text
    undo = re.search(r'name="change" value="([0-9a-f]+)"', flown.get("/aircraft").text)
    assert undo is None or flown.post("/undo", {"change": undo[1]}).status_code == 303


def test_flights_follow_their_aircraft_to_a_new_name(flown: Browser) -> None:
    name, _ = tern_file(flown.desk)
    form = form_in(flown.get(f"/aircraft/{name}/form").text)
    assert flown.post(f"/aircraft/{name}/form", {**form, "aircraft.name": "Tern two"}).status_code == 303
    with flown.desk.book() as book:
        assert {f.aircraft for f in book.flights()} == {"Tern two"}
    undo = re.search(r'name="change" value="([0-9a-f]+)"', flown.get("/aircraft").text)
    assert undo
    flown.post("/undo", {"change": undo[1]})
    with flown.desk.book() as book:
        assert {f.aircraft for f in book.flights()} == {"Tern"}
        assert set(register.load(book).aircraft) == {"Tern"}


def test_a_noted_pack_can_not_be_taken_out(flown: Browser) -> None:
    with flown.desk.book() as book:
        book.note({flight_of(flown): FlightNote(packs={"rx1": "R1"}, fuel={"left": FuelNote(put_in_ml=1.0)})})
        file = next(n for n, f in register.load(book).files.items() if f.packs)
    page = flown.get(f"/aircraft/{file}/form").text
    form = form_in(page)
    number = next(k.split(".")[1] for k, v in form.items() if k.endswith(".name") and v == "R1")
    answer = flown.post(f"/aircraft/{file}/form", {**form, "out": f"packs.{number}"})
    assert answer.status_code == 422
    assert "R1" in re.search(r'role="alert" id="problem">([^<]+)', answer.text)[1]  # type: ignore[index]


def test_a_new_aircraft_starts_from_what_its_log_shows(browser: Browser) -> None:
    told = browser.finished(browser.post(browser.drop(TERN), {"import": "1", "aircraft": "Heron"}))
    assert told["failed"] == []
    page = browser.get("/aircraft").text
    assert "/aircraft/new/form?of=Heron" in page
    form = form_in(browser.get("/aircraft/new/form?of=Heron").text)
    named = {k: v for k, v in form.items() if k.endswith(".name") and v}
    assert named["aircraft.name"] == "Heron"
    assert {named["engines.0.name"], named["engines.1.name"]} == {"left", "right"}
    assert {form["receivers.0.name"], form["receivers.1.name"]} == {"rx1", "rx2"}
    assert form["engines.0.tank"] == form["engines.0.name"]
    more = browser.post("/aircraft/new/form", {**form, "more": "engines"})
    assert "engines.2.name" in form_in(more.text)
    assert form_in(more.text)["aircraft.name"] == "Heron"
    assert browser.post("/aircraft/new/form", form).status_code == 303
    with browser.desk.book() as book:
        known = register.load(book)
    assert [t.name for t in known.aircraft["Heron"].tanks] == ["left", "right"]
    assert {p.role for p in known.packs.values()} >= {"rx1", "rx2"}
    again = browser.post("/aircraft/new/form", form)
    assert again.status_code == 422
    assert "described already" in again.text


def test_nothing_else_of_a_request_becomes_a_field(browser: Browser) -> None:
    form = {"aircraft.name": "X", "aircraft.__class__": "y", "engines.0.made_up": "1", "layouts.0.name": "z"}
    assert browser.post("/aircraft/new/form", form).status_code == 303
    with browser.desk.book() as book:
        (path,) = Path(book.register_folder).glob("*.toml")
        assert tomllib.loads(path.read_text("utf-8")) == {"aircraft": {"name": "X"}}


def test_an_empty_form_is_no_alarm_and_no_aircraft(browser: Browser) -> None:
    form = form_in(browser.get("/aircraft/new/form").text)
    assert browser.post("/aircraft/new/form/check", form).json()["problem"] == ""
    answer = browser.post("/aircraft/new/form", form)
    assert answer.status_code == 422
    assert "needs a name" in answer.text
    assert not browser.desk.folder.exists()


def test_a_file_that_does_not_read_is_named_and_mended_here(browser: Browser) -> None:
    with browser.desk.book() as book:
        register.add(book, register.EXAMPLE.encode(), "heron.toml")
        register.add(book, b'[[packs]]\nname = "P1"\n', "loose.toml")
        path = book.register_folder / "heron.toml"
    path.write_text("rubbish = [")
    page = browser.get("/aircraft")
    assert (page.status_code, "P1" in page.text, "heron.toml" in page.text) == (200, True, True)
    assert 'class="problem"' in page.text
    mark = hashlib.sha256(path.read_bytes()).hexdigest()[:16]
    other = hashlib.sha256(b'[[packs]]\nname = "P1"\n').hexdigest()[:16]
    refused = browser.post("/aircraft/loose.toml", {"text": '[[packs]]\nname = "P2"\n', "mark": other})
    assert (refused.status_code, "heron.toml" in refused.text) == (422, True)  # it may name the same pack
    assert browser.post("/aircraft/heron.toml", {"text": register.EXAMPLE, "mark": mark}).status_code == 303
    assert 'class="problem"' not in browser.get("/aircraft").text
    change = browser.get("/flights").text.partition('name="change" value="')[2].partition('"')[0]
    assert browser.post("/undo", {"change": change}).status_code in (303, 409)

"""The antenna screen without a script: what is typed, looked at, kept as an idea, saved as a layout."""

from __future__ import annotations

import re
import tomllib

import pytest

from analyser.link.planned import planned_best
from spooldown import register
from spooldown.desk.forms.drawing import VIEWS
from spooldown.desk.forms.layout import Draft, draft_of, layout_of, with_layout
from spooldown.desk.session import Desk
from tests.desk.conftest import SAMPLES, TERN, Browser
from tests.desk.test_aircraft_form import TERN_TOML, form_in, tern_file


def tern_layouts() -> register.RegisterFile:
    return register.parse(TERN_TOML.encode(), "tern.toml")


@pytest.mark.parametrize("number", [0, 1])
def test_a_layout_survives_the_form(number: int) -> None:
    aircraft = tern_layouts().aircraft
    assert aircraft
    layout = aircraft.layouts[number]
    assert layout_of(draft_of(layout)) == layout
    assert with_layout(TERN_TOML, draft_of(layout)) == TERN_TOML, "untouched, not a byte changes"


def test_a_moved_antenna_changes_its_own_lines_alone() -> None:
    aircraft = tern_layouts().aircraft
    assert aircraft
    draft = draft_of(aircraft.layouts[1])
    draft.antennas[3]["z"] = "-0,62"
    text = with_layout(TERN_TOML, draft)
    before, after = tomllib.loads(TERN_TOML), tomllib.loads(text)
    assert after["layouts"][1]["antennas"][3].pop("position_m") == [-1.3, 0.0, -0.62]
    before["layouts"][1]["antennas"][3].pop("position_m")
    assert after == before
    draft.name, draft.since = "C", "2026-10-01"
    more = tomllib.loads(with_layout(TERN_TOML, draft))
    assert [x["name"] for x in more["layouts"]] == ["A", "B", "C"]
    assert more["layouts"][2]["since"].isoformat() == "2026-10-01"
    draft.antennas = draft.antennas[:2]
    fewer = tomllib.loads(with_layout(with_layout(TERN_TOML, draft), draft))
    assert len(fewer["layouts"][2]["antennas"]) == 2


def test_the_views_are_those_of_the_body_axes() -> None:
    """ISO 1151-1: x forward, y right, z down; from above with the nose up, right is right."""
    place = {"x": 1.0, "y": 0.5, "z": 0.25}

    def seen(view: str) -> tuple[float, float]:
        (right, rs), (down, ds) = VIEWS[view]
        at = list(place.values())
        return rs * at[right], ds * at[down]

    assert seen("top") == (0.5, -1.0)
    assert seen("side") == (-1.0, 0.25)
    assert seen("front") == (-0.5, 0.25)


def antenna_form(browser: Browser, query: str = "") -> tuple[str, dict[str, str]]:
    name, _ = tern_file(browser.desk)
    page = browser.get(f"/aircraft/{name}/antennas{query}")
    assert page.status_code == 200, page.text
    return f"/aircraft/{name}/antennas", form_in(page.text)


def layouts_of(desk: Desk) -> list[str]:
    with desk.book() as book:
        return [x.name for x in register.load(book).aircraft["Tern"].layouts]


def test_a_layout_is_looked_at_kept_as_an_idea_and_saved(flown: Browser) -> None:
    where, form = antenna_form(flown)
    assert form["name"] == "B"
    upright = {**form, "antennas.0.ax": "0", "antennas.0.ay": "0", "antennas.0.az": "1", "name": "nose upright"}
    looked = flown.post(where, {**upright, "look": "1"})
    assert looked.status_code == 200
    best = planned_best(layout_of(Draft(antennas=[
        {k: form_in(looked.text)[f"antennas.{n}.{k}"] for k in
         ("receiver", "number", "name", "kind", "x", "y", "z", "ax", "ay", "az")} for n in range(4)
    ])))  # fmt: skip
    assert best is not None
    worst = re.search(r"data-worst>([^<]+)", looked.text)
    assert worst
    assert f"{best.gain_db.min():.1f}".replace("-", "\N{MINUS SIGN}") in worst[1]
    assert layouts_of(flown.desk) == ["A", "B"]
    kept = flown.post(where, {**upright, "keep": "1"})
    assert kept.status_code == 303
    page = flown.get(kept.headers["location"])
    assert "Idea nose upright" in page.text
    assert form_in(page.text)["antennas.0.az"] == "1"
    assert layouts_of(flown.desk) == ["A", "B"], "an idea counts for no flight"
    saved = flown.post(where, {**upright, "name": "C", "since": "2026-11-01", "save": "1"})
    assert saved.status_code == 303
    assert layouts_of(flown.desk) == ["A", "B", "C"]
    late = flown.post(where, {**upright, "name": "D", "save": "1"})
    assert late.status_code == 409
    assert layouts_of(flown.desk) == ["A", "B", "C"]
    assert flown.post(where, {**upright, "forget": "nose upright"}).status_code == 303
    assert "Idea nose upright" not in flown.get(where).text


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("antennas.1.az", "up", "Antenna 2, axis down: found text"),
        ("antennas.0.number", "x", "Antenna 1, number: found text"),
        ("antennas.2.kind", "loop", "&#39;dipole&#39;"),
        ("since", "soon", "since: found text"),
        ("name", "", "Give it a name first"),
    ],
)
def test_a_slip_is_told_and_nothing_is_kept(flown: Browser, field: str, value: str, says: str) -> None:
    where, form = antenna_form(flown)
    answer = flown.post(where, {**form, field: value, "save": "1"})
    assert answer.status_code == 422
    assert says in answer.text
    assert layouts_of(flown.desk) == ["A", "B"]


def test_a_row_more_is_shown_and_an_empty_one_is_none(flown: Browser) -> None:
    where, form = antenna_form(flown)
    more = form_in(flown.post(where, {**form, "more": "antennas"}).text)
    assert more["antennas.4.receiver"] == ""
    assert flown.post(where, {**more, "name": "E", "save": "1"}).status_code == 303
    with flown.desk.book() as book:
        assert len(register.load(book).aircraft["Tern"].layouts[2].antennas) == 4


def test_antennas_start_from_what_the_log_reports(browser: Browser) -> None:
    text = re.sub(r"\n\[\[layouts.*", "\n", (SAMPLES / "aircraft" / "tern.toml").read_text("utf-8"), flags=re.DOTALL)
    assert browser.post("/aircraft/new", {"text": text}).status_code == 303
    assert browser.finished(browser.post(browser.drop(TERN), {"import": "1", "aircraft": "Tern"}))["failed"] == []
    _, form = antenna_form(browser)
    found = {(form[f"antennas.{n}.receiver"], form[f"antennas.{n}.number"]) for n in range(4)}
    assert found == {("rx1", "1"), ("rx1", "2"), ("rx2", "1"), ("rx2", "2")}

"""One flight fits a screen, a list fits 80 columns, and a flight is found by what a person calls it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from reports.words.catalogue import LANGUAGES
from spooldown.logbook.book import Logbook
from tests.spooldown.front import run
from tests.spooldown.made import draft, source


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    folder = tmp_path_factory.mktemp("book") / "book"
    samples = Path(__file__).parents[2] / "sample_logs"
    place = ("--logbook", str(folder))
    for kind in ("tern", "plover"):
        assert run("register", *sorted((samples / "aircraft").glob(f"{kind}*.toml")), *place).returncode == 0
        logs = sorted((samples / kind).glob("*.csv"))[:2]
        assert run("import", *logs, "--answer", "doubtful=as-shown", *place).returncode == 0
    return place


NARROW = {"COLUMNS": "80"}


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_flight_is_told_in_forty_lines_of_eighty(book: tuple[str, str], language: str) -> None:
    done = run("show", "latest", "--language", language, *book, env=NARROW)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert 8 <= len(lines) <= 40
    assert max(map(len, lines)) <= 80
    assert ("Fuel:" if language == "en" else "Kraftstoff:") in done.stdout
    every = run("show", "latest", "--all", "--language", language, *book).stdout
    assert len(every.splitlines()) > 60


@pytest.mark.parametrize("width", ["80", "60"])
def test_a_list_fits_the_terminal_and_breaks_no_name(book: tuple[str, str], width: str) -> None:
    ids = re.findall(r'"flight": "([^"]+)"', run("flights", "--json", *book).stdout)
    text = run("flights", *book, env={"COLUMNS": width}).stdout
    assert len(ids) >= 4
    assert all(i in text for i in ids)
    assert max(map(len, text.splitlines())) <= int(width)
    assert "mL" in text
    assert "V" in text
    assert any(level in text for level in ("Fine", "Note", "Watch", "Act"))


def test_a_flight_is_found_by_id_number_and_latest(book: tuple[str, str]) -> None:
    ids = re.findall(r'"flight": "([^"]+)"', run("flights", "--json", *book).stdout)
    tern = [i for i in ids if i.startswith("tern")]
    assert tern[1] in run("show", "tern 2", *book).stdout
    assert tern[0] in run("show", tern[0], *book).stdout
    assert ids[-1] in run("show", "latest", *book).stdout
    twice = run("show", "1", *book)
    assert twice.returncode == 2
    assert "name one of them" in twice.stderr
    nobody = run("show", "tern 99", *book)
    assert nobody.returncode == 4
    assert nobody.stderr.count("\n") == 1


def test_every_command_that_names_a_flight_takes_its_number_and_latest(tmp_path: Path) -> None:
    with Logbook(tmp_path / "book") as made:
        for n in range(4):
            made.add([source(f"{n}.csv", f"{n:02}")], [draft(rows=80 + n)], aircraft="Heron")
        ids = made.flight_ids()
    book = ("--logbook", str(tmp_path / "book"))
    assert ids[3] in run("export", "flights", "--flight", "latest", "--format", "csv", *book).stdout
    telemetry = [run("export", "telemetry", "--flight", word, *book).stdout for word in ("heron 4", ids[3])]
    assert telemetry[0] == telemetry[1] != ""
    assert ids[3] in run("note", "heron 4", "--remarks", "in rain", *book).stdout
    assert "in rain" in run("note", "latest", "--dry-run", "--air-temperature", "9", *book).stdout
    assert ids[2] in run("remove", "heron 3", "--yes", *book).stdout
    assert run("pages", "--compare", "heron 1,latest", "--dry-run", *book).returncode == 0
    assert run("pages", "--compare", f"latest,{ids[3]}", "--dry-run", *book).returncode == 2
    sent = run("pages", "--single", "latest", str(tmp_path / "one.html"), *book)
    assert (sent.returncode, "in rain" in (tmp_path / "one.html").read_text("utf-8")) == (0, True)
    assert run("remove", "latest", "--yes", *book).stdout.count(ids[3]) == 1
    with Logbook(tmp_path / "book") as made:
        assert made.flight_ids() == ids[:2]
    assert run("export", "--flight", "heron 9", *book).returncode == 4

"""The demonstration, made once, and what can be done with a logbook that is full."""

import io
import json
import shutil

import duckdb
import pandas as pd
import pytest
from front import everything, run

from spooldown.logbook.book import Logbook
from spooldown.work import export


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    done = run("demo", folder, "--json")
    assert done.returncode == 0, done.stderr
    return folder, json.loads(done.stdout)


@pytest.fixture
def book(demo, tmp_path):
    """A logbook of one's own, results already there."""
    return shutil.copytree(demo[0] / "logbook", tmp_path / "logbook")


def test_every_log_is_in_and_every_page_is_there(demo):
    folder, said = demo
    with Logbook(folder / "logbook") as book:
        flights = book.flights()
    assert said["flights"] == len(flights) >= 16
    assert all(f.aircraft for f in flights)
    assert said["page"].endswith("index.html")
    start = (folder / "pages" / "index.html").read_text()
    assert "invented" in start.casefold()
    assert len(list(folder.glob("pages/flights/*.html"))) >= len(flights)


def test_made_again_it_replaces_only_itself(demo, tmp_path):
    (tmp_path / "logbook").mkdir()
    (tmp_path / "logbook" / "mine.txt").write_text("x")
    before = everything(tmp_path)
    done = run("demo", tmp_path)
    assert done.returncode == 6
    assert "not a demonstration's logbook" in done.stderr
    assert everything(tmp_path) == before


def test_pages_built_again_are_not_written_again(demo):
    folder, _ = demo
    before = everything(folder)
    done = run("pages", "--logbook", folder / "logbook", "--out", folder / "pages", "--json")
    assert done.returncode == 0, done.stderr
    counts = json.loads(done.stdout)
    assert (counts["written"], counts["removed"]) == (0, 0)
    assert counts["kept"] > 40
    assert everything(folder) == before


def test_a_note_changes_the_pages_it_concerns_and_no_other_flight(demo, book, tmp_path):
    pages = shutil.copytree(demo[0] / "pages", tmp_path / "pages")
    with Logbook(book) as opened:
        flight, *others = [f.flight_id for f in opened.flights() if f.aircraft == "Plover"]
    assert run("note", flight, "--remarks", "swallows about", "--logbook", book).returncode == 0
    before = everything(pages)
    done = run("pages", "--logbook", book, "--out", pages, "--json")
    assert json.loads(done.stdout)["written"] >= 1
    changed = {name for name, data in everything(pages).items() if before.get(name) != data}
    assert f"flights/{flight}.html" in changed
    assert not {f"flights/{o}.html" for o in others} & changed
    assert "swallows about" in (pages / "flights" / f"{flight}.html").read_text()


def test_one_flight_in_one_file(demo, book, tmp_path):
    with Logbook(book) as opened:
        flight = opened.flights()[0].flight_id
    done = run("pages", "--single", flight, tmp_path / "send.html", "--logbook", book)
    assert done.returncode == 0, done.stderr
    text = (tmp_path / "send.html").read_text()
    assert len(text) > 1_000_000  # the plotting script is in it
    assert 'src="' not in text.split("</head>")[0]
    assert not (book / "pages").exists()


def test_flights_side_by_side(demo, book, tmp_path):
    with Logbook(book) as opened:
        one, two = (f.flight_id for f in opened.flights()[:2])
    pages = shutil.copytree(demo[0] / "pages", tmp_path / "pages")
    done = run("pages", "--compare", f"{one},{two}", "--logbook", book, "--out", pages, "--json")
    assert done.returncode == 0, done.stderr
    page = json.loads(done.stdout)["page"]
    assert page == f"{(pages / 'compare.html').resolve().as_uri()}#f={one},{two}"
    assert (pages / "compare" / f"{one}.js").is_file()
    alone = run("pages", "--compare", one, "--logbook", book, "--out", pages)
    assert alone.returncode == 2
    assert "two" in alone.stderr


@pytest.mark.parametrize("what", ["figures", "events", "flights"])
def test_tables_are_the_same_in_every_format(demo, tmp_path, what):
    place = ("--logbook", demo[0] / "logbook")
    for form in ("csv", "json", "parquet"):
        done = run("export", what, "--out", tmp_path / f"x.{form}", *place)
        assert done.returncode == 0, done.stderr
    rows = json.loads((tmp_path / "x.json").read_text(), parse_constant=pytest.fail)
    frame = pd.read_parquet(tmp_path / "x.parquet")
    flat = pd.read_csv(tmp_path / "x.csv", float_precision="round_trip")
    assert len(rows) == len(frame) == len(flat) > 0
    assert list(rows[0]) == list(frame) == list(flat) == list(export.HEADINGS[what])
    for form in ("csv", "parquet"):  # a table without rows has its headings
        none = io.BytesIO(export.encode([], form, export.HEADINGS[what]))
        assert list(pd.read_csv(none) if form == "csv" else pd.read_parquet(none)) == list(flat)
    for name in frame.select_dtypes("float"):
        pd.testing.assert_series_equal(frame[name], flat[name].astype(float), check_exact=True)
        assert frame[name].astype(object).where(frame[name].notna(), None).tolist() == [r[name] for r in rows]
    ((count,),) = duckdb.sql(f"select count(distinct flight) from '{tmp_path / 'x.parquet'}'").fetchall()
    assert count == len({r["flight"] for r in rows})
    assert run("export", what, "--format", "csv", *place).raw == (tmp_path / "x.csv").read_bytes()


def test_telemetry_out_and_back(demo, tmp_path):
    with Logbook(demo[0] / "logbook") as opened:
        flight = opened.flights()[0].flight_id
        table = opened.telemetry(flight).table
    words = ("export", "telemetry", "--flight", flight, "--logbook", demo[0] / "logbook")
    assert run(*words, "--out", tmp_path / "t.parquet").returncode == 0
    there = pd.read_parquet(tmp_path / "t.parquet")
    assert list(there) == table.column_names
    back = pd.read_csv(io.BytesIO(run(*words).raw), float_precision="round_trip")
    numeric = there.select_dtypes("float")
    pd.testing.assert_frame_equal(numeric, back[list(numeric)].astype(float), check_exact=True)
    rows = json.loads(run(*words, "--format", "json").stdout)
    assert len(rows) == len(there)
    ((count,),) = duckdb.sql(f"select count(*) from '{tmp_path / 't.parquet'}'").fetchall()
    assert count == len(there)


def test_what_scripts_read_is_json(demo):
    place = ("--logbook", demo[0] / "logbook")
    with Logbook(demo[0] / "logbook") as opened:
        flights = [f.flight_id for f in opened.flights()]
    for words in (("flights",), ("aircraft",), ("packs",), ("engines",), ("layouts",), ("range-check", "list")):
        done = run(*words, "--json", *place)
        assert done.returncode == 0, done.stderr
        assert json.loads(done.stdout)
        assert run(*words, *place).stdout.strip()
    shown = json.loads(run("show", flights[-1], "--json", *place).stdout)
    assert set(shown) == {"flights", "figures", "events"}
    assert [f["flight"] for f in shown["flights"]] == [flights[-1]]
    assert "Fuel" in run("show", flights[-1], *place).stdout

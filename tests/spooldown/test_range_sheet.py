"""Range checks into the logbook and back: what a sheet may say, what is refused, and what is kept."""

import json
from datetime import date

import pytest
from made import draft, source
from test_cli import run

from analyser.season.link.range_check import RangeCheck, analyse_range_checks
from importers.refusal import Refusal
from spooldown import demo, register
from spooldown.intake import adding
from spooldown.logbook.book import Logbook
from spooldown.problems import NotFoundProblem
from spooldown.sheets.range_checks import is_range_sheet, read_range_sheet
from spooldown.site import range_results
from spooldown.work.export import encode, range_rows

HEAD = "day,receiver,antenna,distance_m,reduction_db,orientation,remarks\n"
GOOD = HEAD + "2021-04-05,RX1,1,41.5,30,tail to pilot,windy\n,,,,,,\n2021-04-05,rx1,,60,30,,\n"


@pytest.fixture
def known(heron):
    return register.load(heron)


def test_rows_are_read_and_names_settled(known):
    assert is_range_sheet(GOOD.encode())
    rows = read_range_sheet(GOOD.encode(), "walk.csv", known, "Heron")
    assert [r.check for r in rows] == [
        RangeCheck(date(2021, 4, 5), "rx1", 1, 41.5, 30.0, "tail to pilot", "windy"),
        RangeCheck(date(2021, 4, 5), "rx1", 0, 60.0, 30.0),
    ]
    assert {r.aircraft for r in rows} == {"Heron"}


def test_decimal_comma_semicolons_and_a_column_for_the_aircraft(known):
    text = "aircraft;day;receiver;distance_m;reduction_db;remarks\r\nheron;2021-04-05;rx1;41,5;30;böig\r\n"
    (row,) = read_range_sheet(text.encode("cp1252"), "walk.csv", known)
    assert (row.aircraft, row.check.distance_m, row.check.note) == ("Heron", 41.5, "böig")


@pytest.mark.parametrize(
    ("old", "new", "line", "column", "says"),
    [
        ("2021-04-05", "5 April", 2, "day", "year-month-day"),
        ("2021-04-05", "2921-04-05", 2, "day", "yet to come"),
        ("41.5", '"1,200"', 2, "distance_m", "a number from"),
        ("RX1", "rx9", 2, "receiver", "a receiver of Heron"),
        (",1,", ",7,", 2, "antenna", "one of"),
        (",1,", ",one,", 2, "antenna", "its number"),
        ("41.5", "forty", 2, "distance_m", "a number from"),
        ("41.5", "-4", 2, "distance_m", "a number from"),
        ("41.5", "nan", 2, "distance_m", "a number from"),
        ("41.5", "", 2, "distance_m", "fill it in"),
        ("60,30", "60,300", 4, "reduction_db", "0 to 60 dB"),
        ("distance_m", "distance", 1, "distance", "did you mean|expected 'distance_m'"),
        ("reduction_db,", "", 1, "reduction_db", "no such column"),
        ("orientation,remarks", "remarks,remarks", 1, "remarks", "twice"),
        ("windy", "windy,x", 2, "", "8 cells"),
    ],
)
def test_slips_are_named(known, old, new, line, column, says):
    assert old in GOOD
    with pytest.raises(Refusal, match=says) as caught:
        read_range_sheet(GOOD.replace(old, new, 1).encode(), "walk.csv", known, "Heron")
    assert (caught.value.file, caught.value.line, caught.value.column or "") == ("walk.csv", line, column)


def test_whose_it_is_must_be_told_once(known):
    text = HEAD.replace("day", "aircraft,day") + "{},2021-04-05,rx1,1,41.5,30,,\n"
    with pytest.raises(Refusal, match="whose range check"):
        read_range_sheet(text.format("").encode(), "walk.csv", known)
    with pytest.raises(Refusal, match="did you mean 'Heron'"):
        read_range_sheet(text.format("Heran").encode(), "walk.csv", known)
    with pytest.raises(Refusal, match="only in one"):
        read_range_sheet(text.format("Heron").encode(), "walk.csv", known, "Tern")
    with pytest.raises(Refusal, match="no row with a check"):
        read_range_sheet(HEAD.encode(), "walk.csv", known, "Heron")


def test_kept_once_listed_and_removed(tmp_path, known):
    rows = [(r.aircraft, r.check) for r in read_range_sheet(GOOD.encode(), "walk.csv", known, "Heron")]
    with Logbook(tmp_path / "book") as book:
        assert book.add_range_checks(rows) == 2
        assert book.add_range_checks(rows) == 0
        book.add([source()], [draft()], aircraft="Heron")
    with Logbook(tmp_path / "book") as book:
        listed = book.range_checks()
        assert [(who, check) for _, who, check in listed] == rows
        assert {line.antenna for line in range_results(book, {"Heron"})["Heron"].lines} == {"rx1", "rx1.antenna1"}
        book.remove_range_check(listed[0][0])
        with pytest.raises(NotFoundProblem, match="no range check"):
            book.remove_range_check(listed[0][0])
        assert len(book.range_checks()) == 1


def test_an_import_of_a_folder_leaves_it_out_and_the_demonstration_takes_it(tmp_path):
    (tmp_path / "walk.csv").write_text(HEAD.replace("day", "aircraft,day") + "Heron,2021-04-05,rx1,1,41.5,30,,\n")
    (tmp_path / "heron.toml").write_text(register.EXAMPLE)
    with Logbook(tmp_path / "book") as book:
        (log,) = [f for f in adding.find_logs([tmp_path]) if f.path.name == "walk.csv"]
        outcome = adding.add_file(book, log, register.load(book))
        assert outcome.state == "skipped"
        assert "range checks" in str(outcome.notices[0])
        _, said = demo.fill(book, tmp_path)
        assert said == ["walk.csv"]
        assert len(book.range_checks()) == 1


def test_commands(tmp_path):
    book = ("--logbook", tmp_path / "book")
    (tmp_path / "walk.csv").write_text(GOOD)
    assert (
        "Would keep 2"
        in run("range-check", "add", "--aircraft", "Heron", tmp_path / "walk.csv", "--dry-run", *book).stdout
    )
    assert not (tmp_path / "book").exists()
    assert "Kept 2" in run("range-check", "add", "--aircraft", "Heron", tmp_path / "walk.csv", *book).stdout
    typed = ("--day", "2021-05-01", "--receiver", "rx1", "--antenna", "1", "--distance", "44", "--reduction", "30")
    assert "Kept 1" in run("range-check", "add", "--aircraft", "Heron", *typed, *book).stdout
    slip = run(
        "range-check",
        "add",
        "--aircraft",
        "Heron",
        "--day",
        "May",
        "--receiver",
        "rx1",
        "--distance",
        "4",
        "--reduction",
        "3",
        *book,
    )
    assert slip.returncode == 3
    assert "column 'day'" in slip.stderr
    assert run("range-check", "add", "--aircraft", "Heron", *book).returncode == 2
    found = json.loads(run("range-check", "list", "--json", *book).stdout)
    assert len(found["checks"]) == 3
    assert {line["antenna"] for line in found["lines"]["Heron"]["lines"]} == {"rx1", "RX1.antenna1", "rx1.antenna1"}
    shown = run("range-check", "list", *book).stdout
    assert "1 391 m" in shown.replace("\u202f", " ").replace("\u00a0", " ")
    assert "not as a promised range" in shown
    rows = json.loads(run("export", "range-checks", "--format", "json", *book).stdout)
    assert len(rows) == 3
    assert {(r["day"], r["antenna"]) for r in rows} >= {("2021-05-01", "rx1.antenna1")}
    assert all(r["implied_m"] >= r["cautious_m"] >= r["distance_m"] for r in rows)
    assert run("export", "range-checks", "--flight", "x", *book).returncode != 0
    assert run("range-check", "remove", found["checks"][0]["number"], *book).returncode == 0
    assert run("range-check", "remove", 99, *book).returncode != 0


def test_exported_rows_tell_how_the_latest_stands(tmp_path):
    walked = [RangeCheck(date(2021, 4 + k, 5), "rx1", 1, d, 30.0, "nose", "=1+1") for k, d in enumerate((40.0, 15.0))]
    result = {"Heron": analyse_range_checks(walked)}
    rows = range_rows([(k + 1, "Heron", c) for k, c in enumerate(walked)], result)
    assert [r["level"] for r in rows] == [None, "watch"]
    assert rows[1]["earlier_db"] == pytest.approx(-8.52, abs=0.01)
    assert rows[1]["earlier_low_db"] < rows[1]["earlier_high_db"] < 0
    assert rows[1]["moved_db"] is None
    assert "below your earlier checks" in rows[1]["said"]
    assert b"'=1+1" in encode(rows, "csv")

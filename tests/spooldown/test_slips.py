"""What a stranger may type and hand in: each slip is one sentence and a code, and the logbook stays as it was."""

import gzip
import os
import shutil
import sqlite3
from contextlib import closing

import pytest
from front import everything, run, said_once

from spooldown.register import EXAMPLE

GOOD = "Time (s),RX1 Voltage (V),Wibble,Empty\n" + "".join(f"{i / 10},{8 + i % 7 / 100},{i},\n" for i in range(60))
FLIGHT = "heron-undated-a"
TANK = "[aircraft]\nname='X'\n[[tanks]]\nname='a'\ncapacity_ml={}\nunusable_ml={}\n"
ANTENNA = "[aircraft]\nname='X'\n[[layouts]]\nname='a'\n[[layouts.antennas]]\nreceiver='rx1'\nnumber=1\n"

FILES = {
    "pdf.csv": b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\r<< /Type /Catalog >>\rendobj\n" + bytes(range(256)) * 20,
    "zip.csv": b"PK\x03\x04" + bytes(100),
    "cut.csv.gz": gzip.compress(GOOD.encode())[:60],
    "no.csv.gz": b"hello",
    "page.csv": b"<!doctype html><html><body>Sign in</body></html>",
    "tree.csv": b'{"a": [1,2,3], "b": {"c": 4}}',
    "endless.csv": b"a" * 3_000_000,
    "late.csv": GOOD.encode() + b"9," + b"8" * 20_000_000 + b",1,\n",
    "two\nlines.csv": b"nothing\n",
    "new.csv": GOOD.replace("8.", "7.").encode(),
    "bad_key.toml": b"colums = {}",
    "bytes.toml": b"\xff\xfe\x00",
    "negative.toml": EXAMPLE.replace("4200", "-4200").encode(),
    "number.toml": b"aircraft = 3\n",
    "list.toml": b"[aircraft]\nname = ['a']\n",
    "word.toml": b"packs = 'x'\n",
    "reserve.toml": b"[aircraft]\nname='X'\nreserve = 25\n",
    "tables.toml": b"[[aircraft]]\nname='X'\n",
    "cells.toml": b"[[packs]]\nname='X'\ncells=-2\n",
    "date.toml": b"[[packs]]\nname='X'\nin_service_since='2030'\n",
    "words.toml": f"{ANTENNA}position_m=['a','b','c']\naxis=[0,0,1]\n".encode(),
    "unusable.toml": TANK.format(3000, 4000).encode(),
    "deep.toml": b"a=" + b"[" * 5000 + b"]" * 5000,
    "column.csv": b"log_file,wibble\ngood.csv,3\n",
    "never.csv": b"log_file,air_temperature_c\nnever.csv,3\n",
    "no_file.csv": b"a,b\n1,2\n",
    "pole.csv": b"log_file,pilot_latitude_deg\ngood.csv,200\n",
    "no_row.csv": b"log_file\n",
    "zero.csv": b"log_file,remarks\ngood.csv,a\nbad\x00,b\n",
    "long.csv": b'log_file,remarks\ngood.csv,"' + b"a" * 200_000 + b'"\n',
    "cold.csv": b"log_file,air_temperature_c\ngood.csv,-400\n",
    "x.txt": b"x",
}


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    folder = tmp_path_factory.mktemp("slips")
    (folder / "good.csv").write_text(GOOD)
    (folder / "heron.toml").write_text(EXAMPLE)
    book = ("--logbook", folder / "book")
    assert run("import", folder / "good.csv", "--aircraft", "Heron", *book).returncode == 0
    assert run("register", folder / "heron.toml", *book).returncode == 0
    (folder / "empty").mkdir()
    (folder / "foreign").mkdir()
    with closing(sqlite3.connect(folder / "foreign" / "catalogue.sqlite")) as foreign:
        foreign.execute("CREATE TABLE recipe (name TEXT)")
    for name, data in FILES.items():
        (folder / name).write_bytes(data)
    return folder


def all_but_cache(folder):
    worked_out = ("book/cache/", "book/columns/")
    return {name: data for name, data in everything(folder).items() if not name.startswith(worked_out)}


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("import", "empty"), 4, "holds no log"),
        (("import", "pdf.csv"), 3, "a PDF document"),
        (("import", "zip.csv"), 3, "zip"),
        (("import", "cut.csv.gz"), 3, "cut.csv.gz"),
        (("import", "no.csv.gz"), 3, "no.csv.gz"),
        (("import", "page.csv"), 3, "page.csv"),
        (("import", "tree.csv"), 3, "tree.csv"),
        (("import", "endless.csv"), 3, "endless.csv"),
        (("import", "late.csv"), 3, "late.csv"),
        (("import", "two\nlines.csv"), 3, "two lines.csv"),
        (("import", "-"), 3, "an empty file"),
        (("import", "new.csv", "--answer", "nonsense"), 2, "NAME=VALUE"),
        (("import", "new.csv", "--answer", "zone=Mars"), 3, "Mars"),
        (("import", "new.csv", "--mapping", "gone.toml"), 4, "gone.toml"),
        (("import", "new.csv", "--mapping", "bad_key.toml"), 3, "did you mean 'columns'"),
        (("import", "new.csv", "--mapping", "bytes.toml"), 3, "bytes.toml"),
        (("import", "new.csv", "--aircraft", "Heran"), 4, "did you mean 'Heron'"),
        (("import", "new.csv", "--logbook", "x.txt"), 6, "x.txt"),
        (("import", "new.csv", "--logbook", "x.txt/deeper"), 6, "another folder"),
        (("register", "pdf.csv"), 3, "not UTF-8"),
        (("register", "good.csv"), 3, "not TOML"),
        (("register", "empty"), 4, "cannot be read"),
        (("register", "negative.toml"), 3, "capacity_ml': found"),
        (("register", "number.toml"), 3, "expected a table"),
        (("register", "list.toml"), 3, "expected text in quotes"),
        (("register", "word.toml"), 3, "expected a list"),
        (("register", "reserve.toml"), 3, "aircraft.reserve"),
        (("register", "tables.toml"), 3, "expected a table [aircraft]"),
        (("register", "cells.toml"), 3, "expected a number from 1 to 100"),
        (("register", "date.toml"), 3, "a date like"),
        (("register", "words.toml"), 3, "expected a number"),
        (("register", "unusable.toml"), 3, "not below capacity_ml"),
        (("register", "deep.toml"), 3, "nested"),
        (("note", "--sheet", "column.csv"), 3, "unknown column"),
        (("note", "--sheet", "never.csv"), 3, "never imported"),
        (("note", "--sheet", "no_file.csv"), 3, "unknown column"),
        (("note", "--sheet", "pole.csv"), 3, "from -90 to 90 degrees"),
        (("note", "--sheet", "no_row.csv"), 3, "no row with a flight"),
        (("note", "--sheet", "zero.csv"), 3, "no text"),
        (("note", "--sheet", "long.csv"), 3, "no table"),
        (("note", "--sheet", "cold.csv"), 3, "from -60 to 60 °C"),
        (("note", "--sheet", "pdf.csv"), 3, "pdf.csv"),
        (("note", "--sheet", "empty"), 4, "cannot be read"),
        (("note", "nope", "--remarks", "x"), 4, "no flight 'nope'"),
        (("note", FLIGHT, "--air-temperature", "nan"), 2, "from -60 to 60 °C"),
        (("note", FLIGHT, "--pilot", "91,0"), 2, "--pilot"),
        (("note", FLIGHT, "--charged", "rx1=-5"), 2, "from 0 to 100000 mAh"),
        (("note", FLIGHT, "--fuel-before", "main=1e400"), 2, "wants a number"),
        (("note", FLIGHT, "--layout", "frist"), 4, "did you mean 'first'"),
        (("note", FLIGHT, "--cell-resistance", "rx1=3//4"), 2, "wants a number"),
        (("note", FLIGHT, "--charged", "rx1=3,5 Ah"), 2, "wants a number"),
        (("note", FLIGHT, "--charged", "rx1=3,500"), 2, "wants a number"),
        (("note", FLIGHT, "--charged", "rx1=3500", "--charged", "rx1=350"), 2, "twice"),
        (("note", FLIGHT, "--charged", "rx2=900"), 4, "did you mean 'rx1'"),
        (("note", FLIGHT, "--fuel-put-in", "wing=900"), 4, "known here: main"),
        (("note", FLIGHT, "--pilot", "51"), 2, "--pilot wants latitude"),
        (("note", "--sheet", "cold.csv", "--remarks", "x"), 2, "--sheet goes with"),
        (("note", FLIGHT, "--sheet", "cold.csv"), 2, "one of the two"),
        (("show", "../../x"), 4, "no flight '../../x'"),
        (("show", FLIGHT.upper()), 4, f"did you mean '{FLIGHT}'"),
        (("pages", "--single", FLIGHT, "empty"), 2, "empty cannot be written"),
        (("pages", "--out", "x.txt"), 2, "x.txt cannot be written"),
        (("pages", "--compare", FLIGHT), 2, "two different flights"),
        (("export", "wibble"), 2, "range-checks or telemetry"),
        (("export", "telemetry"), 2, "--flight"),
        (("export", "figures", "--out", "empty"), 2, "cannot be written"),
        (("export", "figures", "--out", "x.xlsx"), 2, "ending"),
        (("export", "figures", "--out", "gone/x.csv"), 2, "cannot be written"),
        (("flights", "--logbook", "x.txt"), 4, "no logbook at x.txt"),
        (("flights", "--logbook", "~nobody at all/x"), 4, "no logbook at ~nobody at all"),
        (("flights", "--aircraft", "Heran"), 4, "did you mean 'Heron'"),
        (("range-check", "list", "--aircraft", "Heran"), 4, "did you mean 'Heron'"),
        (("flights", "--logbook", "foreign"), 6, "some other program's database"),
        (("demo", "x.txt"), 6, "another folder"),
        (("range-check", "add", "--aircraft", "Heron", "no_file.csv"), 3, "unknown column"),
        (("range-check", "add", "--aircraft", "Heron", "zero.csv"), 3, "no text"),
        (("range-check", "remove", "99"), 4, "no range check 99"),
    ],
)
def test_one_sentence_and_nothing_changed(filled, monkeypatch, words, code, says):
    monkeypatch.chdir(filled)
    before = all_but_cache(filled)
    done = run(*words, env={"SPOOLDOWN_LOGBOOK": "book"})
    assert says in said_once(done)
    assert done.returncode == code
    assert all_but_cache(filled) == before


@pytest.mark.parametrize("words", [("wibble",), ("import",), ("flights", "--wibble"), ("remove",), ("show",)])
def test_wrong_words_are_usage(filled, words):
    done = run(*words, env={"SPOOLDOWN_LOGBOOK": str(filled / "book")})
    assert done.returncode == 2
    assert "--help` " in said_once(done)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="nothing is forbidden to this user")
def test_what_may_not_be_read_or_written(filled, tmp_path):
    closed = tmp_path / "closed.csv"
    closed.write_text(GOOD)
    closed.chmod(0)
    assert "permissions" in said_once(run("import", closed, "--logbook", tmp_path / "book"))
    shut = tmp_path / "shut"
    shut.mkdir(mode=0o500)
    done = run("import", filled / "new.csv", "--logbook", shut / "book")
    assert done.returncode == 6
    assert "cannot be made" in said_once(done)


@pytest.mark.parametrize("answer", [b"n\n", b"", b"maybe\nno\n"])
def test_nothing_is_removed_without_a_yes(filled, answer):
    before = everything(filled)
    done = run("remove", FLIGHT, "--logbook", filled / "book", stdin=answer)
    assert done.returncode == 130
    assert "Nothing removed" in done.stdout
    assert everything(filled) == before


@pytest.mark.parametrize("name", ["wëird 漢 \u202e.csv", "..-..-x.csv", "-dash.csv", "[red]x[bold].csv", "a'b\"c.csv"])
def test_odd_file_names_are_welcome(filled, tmp_path, name):
    (tmp_path / name).write_bytes(FILES["new.csv"])
    book = tmp_path / "book"
    done = run("import", tmp_path / name, "--aircraft", "../../Ünder", "--logbook", book)
    assert done.returncode == 0, done.stderr
    assert "\u202e" not in done.stdout
    listed = run("flights", "--logbook", book)
    assert "under-undated-a" in listed.stdout
    assert {p.parent for p in book.rglob("*.parquet")} == {book / "flights"}
    assert set(tmp_path.iterdir()) == {book, tmp_path / name}


def test_names_that_climb_stay_inside(filled, tmp_path):
    book = shutil.copytree(filled / "book", tmp_path / "deep" / "book")
    (tmp_path / "x.toml").write_text("[aircraft]\nname='../../x'\n")
    assert run("register", tmp_path / "x.toml", "--logbook", book).returncode == 0
    assert run("import", filled / "new.csv", "--save-mapping", "../../y", "--logbook", book).returncode == 0
    assert (book / "register" / "x.toml").is_file()
    assert (book / "mappings" / "y.toml").is_file()
    assert {p.name for p in tmp_path.iterdir()} == {"deep", "x.toml"}


@pytest.mark.parametrize(
    ("words", "english", "german"),
    [
        (["limits", "edit"], "AIRCRAFT is missing", "AIRCRAFT fehlt"),
        (["limits", "edit", "Heron", "--ys"], "did you mean --yes?", "war --yes gemeint?"),
        (["flightz"], "did you mean `flights`?", "war `flights` gemeint?"),
        (
            ["bin", "wibble"],
            "there is no command `spooldown bin wibble`",
            "den Befehl `spooldown bin wibble` gibt es nicht",
        ),
        (["show", "a", "b"], "no place for b", "keinen Platz für b"),
        (["record", "-", "--baud", "x"], "found x, expected a whole number", "gefunden x, erwartet eine ganze Zahl"),
        (["record", "-", "--baud", "5"], "at least 50", "mindestens 50"),
        (["note", "--charged"], "--charged wants a value", "--charged braucht dahinter einen Wert"),
        (["pages", "--open=3"], "--open takes no value", "--open nimmt keinen Wert"),
    ],
)
def test_wrong_usage_is_one_sentence_in_the_readers_language(words, english, german):
    for language, said in (("en", english), ("de", german)):
        done = run(*words, env={"SPOOLDOWN_LANGUAGE": language})
        assert (done.returncode, said in said_once(done)) == (2, True), done.stderr


def test_an_aircraft_is_named_by_the_same_option_in_every_command(filled):
    """Those that take its name first take the option as well, wherever it stands."""
    where = ("--logbook", filled / "book")
    first = run("limits", "show", "Heron", *where)
    assert first.returncode == 0
    for words in (["--aircraft", "Heron", *where], [*where, "--aircraft=Heron"]):
        assert run("limits", "show", *words).stdout == first.stdout
    assert run("before", "--aircraft", "Heron", *where).returncode == 0
    assert "--aircraft" in run("year", "--help").stdout

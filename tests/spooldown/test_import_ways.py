"""Ways a log may come in: from standard input, squeezed, with a mapping that is saved and known again."""

import bz2
import gzip
import hashlib
import io
import json
import lzma
import zipfile
from pathlib import Path

import pytest
from front import ANY_SHELL, everything, run, said_once

from spooldown.intake import adding
from spooldown.logbook.book import Logbook

GOOD = "Time (s),RX1 Voltage (V),Wibble\n" + "".join(f"{i / 10},{8 + i % 7 / 100},{i}\n" for i in range(60))
OTHER = GOOD.replace(",8", ",7")


@pytest.fixture(autouse=True)
def _here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SPOOLDOWN_LOGBOOK", "book")


def telemetry(number=0, place="book"):
    with Logbook(Path(place)) as book:
        return book.telemetry(book.flights()[number].flight_id)


def test_standard_input():
    done = run("import", "-", "--aircraft", "Heron", stdin=GOOD.encode())
    assert done.returncode == 0, done.stderr
    assert telemetry().table.num_rows == 60
    assert "standard-input.csv" in run("flights").stdout


def test_squeezed_and_plain_give_the_same():
    Path("a.csv.gz").write_bytes(gzip.compress(GOOD.encode()))
    Path("b.csv").write_text(GOOD + "6.0,8.0,60\n")
    assert run("import", "a.csv.gz").returncode == 0
    assert run("import", "b.csv", "--logbook", "longer").returncode == 0  # beside its shorter copy it is refused
    one, two = telemetry(0), telemetry(0, "longer")
    assert one.table.equals(two.table.slice(0, 60))


def zipped(**files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, text in files.items():
            archive.writestr(f"{name}.csv", text)
    return out.getvalue()


@pytest.mark.parametrize("first", ["a.csv", "a.csv.gz", "a.csv.zip"])
def test_the_same_log_plain_or_in_any_archive_is_one(first):
    Path("a.csv").write_text(GOOD)
    Path("a.csv.gz").write_bytes(gzip.compress(GOOD.encode()))
    Path("a.csv.zip").write_bytes(zipped(a=GOOD))
    assert run("import", first).returncode == 0
    for again in ("a.csv", "a.csv.gz", "a.csv.zip"):
        assert "already in the logbook" in run("import", again).stdout
    with Logbook(Path("book")) as book:
        assert len(book.flights()) == 1


def test_each_log_of_an_archive_comes_in_once():
    Path("both.zip").write_bytes(zipped(a=GOOD, b=OTHER))
    for member, said in (("a", "imported"), ("b", "imported"), ("a", "already in the logbook")):
        assert said in run("import", "both.zip", "--answer", f"member={member}.csv").stdout
    with Logbook(Path("book")) as book:
        assert len(book.flights()) == 2


def test_a_log_that_goes_away_meanwhile_is_said_in_one_sentence(monkeypatch):
    Path("a.csv").write_text(GOOD)
    read = adding.read

    def gone(*words, **more):
        Path("a.csv").unlink()
        return read(*words, **more)

    monkeypatch.setattr(adding, "read", gone)
    assert "No such file" in said_once(run("import", "a.csv"))
    assert not Path("book").exists()


def test_a_folder_gives_logs_in_every_archive_that_is_read():
    Path("logs").mkdir()
    Path("logs/a.csv.xz").write_bytes(lzma.compress(GOOD.encode()))
    Path("logs/b.csv.bz2").write_bytes(bz2.compress(OTHER.encode()))
    assert run("import", "logs").stdout.count("imported") == 2


def test_a_day_without_a_zone_names_and_orders_a_flight():
    late, early = "# Start: 2026-05-10T11:30:00\n" + GOOD, "# Start: 2026-05-09T18:00:00Z\n" + GOOD
    Path("a.csv").write_text(late)
    Path("field-2026-05-08.csv").write_text(OTHER)
    Path("c.csv").write_text(early)
    Path("d.csv").write_text(OTHER + "6.0,8.0,60\n")
    assert run("import", "a.csv", "field-2026-05-08.csv", "c.csv", "d.csv", "--aircraft", "Heron").returncode == 0
    with Logbook(Path("book")) as book:
        flights = book.flights()
    assert [f.flight_id for f in flights] == [
        "heron-2026-05-08-a", "heron-2026-05-09-a", "heron-2026-05-10-a", "heron-undated-a",
    ]  # fmt: skip
    assert [f.when for f in flights] == ["2026-05-08", "2026-05-09 18:00", "2026-05-10 11:30 local", "undated"]
    assert [f.day and f.day.day for f in flights] == [8, 9, 10, None]
    listed = run("flights").stdout
    assert "2026-05-10 11:30 local" in listed


def test_a_logbook_that_knows_an_archive_by_its_own_bytes_still_does():
    data = gzip.compress(GOOD.encode())
    Path("a.csv.gz").write_bytes(data)
    assert run("import", "a.csv.gz").returncode == 0
    with Logbook(Path("book")) as book, book.writing() as db:
        db.execute("UPDATE source SET sha256 = ?", (hashlib.sha256(data).hexdigest(),))
    assert "already in the logbook" in run("import", "a.csv.gz").stdout


def test_folders_and_files_that_fail_do_not_stop_the_others():
    Path("logs/deep").mkdir(parents=True)
    Path("logs/good.csv").write_text(GOOD)
    Path("logs/deep/other.csv").write_text(OTHER)
    Path("logs/bad.csv").write_text("nothing\n")
    Path("logs/readme.md").write_text("no log")
    done = run("import", "logs", "--json")
    assert "bad.csv" in said_once(done)
    said = json.loads(done.stdout)
    assert [f["file"] for f in said["files"]] == ["logs/deep/other.csv", "logs/good.csv"]
    assert [f["state"] for f in said["files"]] == ["imported"] * 2
    assert [r["file"] for r in said["refused"]] == ["logs/bad.csv"]


def test_a_saved_mapping_is_known_again_by_its_headings():
    Path("good.csv").write_text(GOOD)
    Path("other.csv").write_text(OTHER)
    assert run("import", "good.csv", "--save-mapping", "my logger").returncode == 0
    saved = Path("book/mappings/my-logger.toml")
    assert '"RX1 Voltage (V)" = "pack.rx1.voltage_v"' in saved.read_text()
    # The owner edits it; the next file with the same headings is read so.
    saved.write_text(saved.read_text().replace("extra.wibble", "pack.ecu.used_mah"))
    planned = json.loads(run("import", "other.csv", "--dry-run", "--json").stdout)["files"][0]
    assert {c["heading"]: c["channel"] for c in planned["columns"]}["Wibble"] == "pack.ecu.used_mah"
    assert run("import", "other.csv").returncode == 0
    assert telemetry(1).has("pack.ecu.used_mah")
    assert telemetry(1).metadata["mapping"] == "my logger"
    assert not telemetry(0).has("pack.ecu.used_mah")
    # Other headings are none of its business.
    Path("third.csv").write_text(GOOD.replace("Wibble", "Wobble"))
    assert run("import", "third.csv").returncode == 0
    assert telemetry(2).extras == ("extra.wobble",)


def test_a_mapping_that_no_longer_reads_stops_the_import():
    Path("good.csv").write_text(GOOD)
    Path("other.csv").write_text(OTHER)
    assert run("import", "good.csv", "--save-mapping", "mine").returncode == 0
    Path("book/mappings/mine.toml").write_text("columns = 3")
    before = everything(Path("book"))
    assert "mine.toml" in said_once(run("import", "other.csv"))
    assert everything(Path("book")) == before


def test_one_name_for_one_set_of_columns():
    Path("good.csv").write_text(GOOD)
    Path("third.csv").write_text(OTHER.replace("Wibble", "Wobble"))
    done = run("import", "good.csv", "third.csv", "--save-mapping", "mine")
    assert done.returncode == 2
    assert "same columns" in done.stderr
    assert not Path("book/mappings").exists()


def test_commands_and_flights_complete_in_the_shell():
    Path("good.csv").write_text(GOOD)
    assert run("import", "good.csv", "--aircraft", "Heron").returncode == 0
    for words, expected in (
        ("spooldown fl", "flights"),
        ("spooldown range", "range-check"),
        ("spooldown range-check ", "add"),
        ("spooldown flights --aircraft He", "Heron"),
        ("spooldown show la", "latest"),
        ("spooldown settings --volume f", "fl_oz"),
        ("spooldown show her", "heron-undated-a"),
        ("spooldown export figures --flight he", "heron-undated-a"),
        ("spooldown import --jo", "--join"),
    ):
        env = {"_SPOOLDOWN_COMPLETE": "complete_bash", "COMP_WORDS": words, "COMP_CWORD": str(words.count(" "))}
        done = run(env=env)
        assert expected in done.stdout.split(), (words, done)
    for shell in ("bash", "zsh", "fish"):
        assert "spooldown" in run("--show-completion", shell, env=ANY_SHELL).stdout

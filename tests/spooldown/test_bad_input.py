"""Bad logs through the front door: one sentence, an exit code, and a logbook that did not change."""

import pytest
from front import everything, run

from spooldown.logbook.book import Logbook

GOOD = "Time (s),RX1 Voltage (V),Wibble,Empty\n" + "".join(f"{i / 10},{8 + i % 7 / 100},{i},\n" for i in range(60))


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "good.csv").write_text(GOOD)
    assert run("import", tmp_path / "good.csv", "--logbook", tmp_path / "book").returncode == 0
    return tmp_path


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("empty", b""),
        ("binary", bytes(range(256)) * 40),
        ("no_time", GOOD.replace("Time (s)", "Flavour").replace("0.", "x").encode()),
        ("no_channel", GOOD.replace("RX1 Voltage (V)", "Flavour").encode()),
        ("twice", GOOD.replace("Wibble", "RX1 Voltage (V)").encode()),
        ("header_only", GOOD.splitlines()[0].encode()),
    ],
)
@pytest.mark.parametrize("fresh", [False, True])
def test_refused_in_one_sentence(folder, name, data, fresh):
    (folder / f"{name}.csv").write_bytes(data)
    book = folder / ("new" if fresh else "book")
    before = everything(folder)
    done = run("import", folder / f"{name}.csv", "--logbook", book)
    assert done.returncode in (3, 5)
    assert f"{name}.csv" in done.stderr
    assert "Traceback" not in done.stderr
    assert "fault in spooldown" not in done.stderr
    assert everything(folder) == before


def test_dry_run_and_the_same_content_change_nothing(folder):
    book = ("--logbook", folder / "book")
    (folder / "other.csv").write_text(GOOD.replace("8.", "7."))
    before = everything(folder)
    assert "pack.rx1.voltage_v" in run("import", folder / "other.csv", "--dry-run", *book).stdout
    assert "nothing changed" in run("import", folder / "good.csv", *book).stdout
    assert "nothing changed" in run("import", "-", *book, stdin=GOOD.encode()).stdout
    assert everything(folder) == before


def test_unknown_and_empty_columns_are_told(folder):
    with Logbook(folder / "book") as book:
        (flight,) = book.flights()
        assert book.telemetry(flight.flight_id).extras == ("extra.wibble",)
    assert any("Wibble" in n for n in map(str, flight.notices))
    assert any("Empty" in n for n in map(str, flight.notices))

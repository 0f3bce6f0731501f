"""Putting a wrong or doubtful column right: by command, by a saved mapping, and in a flight that is there already."""

import json
from pathlib import Path

import pint
import pytest
from front import everything, run, said_once

from analyser.core.aircraft import FlightContext
from analyser.flight import analyse_flight
from spooldown.logbook.book import Logbook
from spooldown.upkeep.mending import other_cells

ROWS = [f"{i / 4:.2f},{8.2 - i / 900:.3f},{20 + i % 31},{2900 - i * 5},{i}" for i in range(120)]
LOG = "Time (s),RX1 Voltage (V),Ground speed (mph),Zorp,Wibble\n" + "\n".join(ROWS) + "\n"
MAPPED = ("--column", "Zorp=fuel.main.remaining_ml", "--unit", "Zorp=fl oz")


@pytest.fixture(autouse=True)
def _here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SPOOLDOWN_LOGBOOK", "book")
    Path("a.csv").write_text(LOG)


def stored(number=0):
    with Logbook(Path("book")) as book:
        return book.telemetry(book.flights()[number].flight_id)


def planned(*words):
    return json.loads(run("import", *words, "--dry-run", "--json").stdout)["files"]


def test_a_column_and_its_unit_are_said_by_command():
    done = run("import", "a.csv", *MAPPED)
    assert done.returncode == 0, done.stderr
    ounce = pint.UnitRegistry().Quantity(1, "US_fluid_ounce").to("mL").magnitude
    assert stored().series("fuel.main.remaining_ml").values[0] == pytest.approx(2900 * ounce)
    # NIST SP 811, appendix B: a mile per hour is 0.44704 m/s.
    assert stored().series("position.ground_speed_m_s").values[0] == pytest.approx(20 * 0.44704)


def test_a_heading_may_hold_the_sign():
    Path("b.csv").write_text(LOG.replace("Zorp", "p=q (V)"))
    done = run("import", "b.csv", "--column", "p=q (V)=extra.mine")
    assert done.returncode == 0, done.stderr
    assert "extra.mine" in stored().extras


def test_a_channel_without_its_unit_is_asked():
    done = run("import", "a.csv", "--column", "Zorp=position.ground_speed_m_s", "--column", "Ground speed (mph)=")
    assert done.returncode == 5
    assert "unit.zorp=VALUE" in done.stderr
    assert "km/h" in done.stderr


@pytest.mark.parametrize(("words", "said"), [
    (("--column", "Zorb=fuel.main.used_ml"), "did you mean 'Zorp'"),
    (("--column", "Zorp=fuel.main.usd_ml"), "did you mean 'fuel.main.used_ml'"),
    (("--unit", "Zorp=parsecs per blink"), "unit"),
    (("--unit", "Zorp"), "HEADING=VALUE"),
    (("--answer", "time_unt=ms"), "did you mean 'time_unit'"),
    (("--answer", "time_unit=fortnight"), "It may be"),
    (("--answer", "unit.zorb=V"), "did you mean 'unit.zorp'"),
    (("--answer", "rte=10"), "did you mean 'rate'"),
    (("--answer", "rate=10"), "no file asks that"),
    (("--unit", "Ground speed (mph)=mhp"), "did you mean 'mph'"),
    (("--unit", "Zorp=mL", "--unit", "Zorp=L"), "two things of 'Zorp'"),
    (("--column", "Zorp=fuel.main.used_ml", "--column", "Zorp="), "two things of 'Zorp'"),
])  # fmt: skip
def test_what_fits_nothing_is_an_error_with_the_nearest(words, said):
    done = run("import", "a.csv", *words)
    assert done.returncode in (2, 3)
    assert said in said_once(done)
    assert not Path("book/catalogue.sqlite").exists()


def test_what_is_doubtful_comes_with_the_command_to_correct_it():
    rows = [f"{i / 4:.2f},{8.2 - i / 900:.3f},20,{7.9 - i / 800:.3f},{i}" for i in range(120)]
    Path("b.csv").write_text("\n".join([LOG.splitlines()[0].replace("Zorp", "Zorp battery (V)"), *rows]) + "\n")
    done = run("import", "b.csv", "--dry-run")
    assert "--column 'Zorp battery (V)=pack.zorp.voltage_v'" in done.stdout
    assert "'Wibble'" in done.stdout
    assert "not understood" in done.stdout
    assert run("import", "b.csv").returncode == 5
    assert run("import", "b.csv", "--answer", "doubtful=as-extras").returncode == 0
    assert not any(c.startswith("pack.zorp") for c in stored().channels)


def test_a_layout_is_shown_once():
    for n in range(5):
        Path(f"log{n}.csv").write_text(LOG + f"31.00,8.1,20,2000,{n}\n")
    shown = run("import", *[f"log{n}.csv" for n in range(5)], "--dry-run").stdout
    assert "5 files of this layout" in shown
    assert shown.count("Ground speed") == 1


def test_a_mapping_saved_in_a_dry_run_says_where_it_lies_and_is_used():
    done = run("import", "a.csv", *MAPPED, "--dry-run", "--save-mapping", "mine")
    assert "book/mappings/mine.toml" in done.stdout.replace("\\", "/")
    text = Path("book/mappings/mine.toml").read_text()
    assert 'Zorp = "fuel.main.remaining_ml"' in text
    assert 'Zorp = "fl oz"' in text
    (file,) = planned("a.csv")
    assert file["mapping"] == "mine"
    assert {c["heading"]: c["channel"] for c in file["columns"]}["Zorp"] == "fuel.main.remaining_ml"
    assert next(c["confidence"] for c in file["columns"] if c["heading"] == "Wibble") is None


def test_a_mapping_that_fits_all_but_a_few_columns_is_used_and_says_which():
    headings = "Time (s),RX1 Voltage (V),Ground speed (mph),Zorp,Wibble,Q1,Q2,Q3,Q4,Q5"
    rows = [f"{r},1,2,3,4,{i % 7}" for i, r in enumerate(ROWS)]
    Path("a.csv").write_text("\n".join([headings, *rows]) + "\n")
    assert run("import", "a.csv", *MAPPED, "--save-mapping", "mine").returncode == 0
    Path("b.csv").write_text("\n".join([headings.replace("Q5", "New one"), *rows]) + "\n")
    (file,) = planned("b.csv")
    assert file["mapping"] == "mine"
    assert {c["heading"]: c["channel"] for c in file["columns"]}["Zorp"] == "fuel.main.remaining_ml"
    (notice,) = [n for n in file["notices"] if "mapping" in n]
    assert "missing: 'Q5'" in notice
    assert "new: 'New one'" in notice


def test_a_mapping_named_that_cannot_be_used_is_an_error():
    assert run("import", "a.csv", *MAPPED, "--dry-run", "--save-mapping", "mine").returncode == 0
    Path("b.csv").write_text("t (s),RX9 Voltage (V)\n" + "".join(f"{i},8.1\n" for i in range(40)))
    before = everything(Path("book"))
    assert "was not made for" in said_once(run("import", "b.csv", "--mapping", "mine"))
    assert "did you mean 'mine'" in said_once(run("import", "a.csv", "--mapping", "mien"))
    assert everything(Path("book")) == before


def test_a_flight_is_read_again_with_other_columns_and_keeps_its_notes():
    assert run("import", "a.csv", "--aircraft", "Heron").returncode == 0
    assert run("note", "heron-undated-a", "--remarks", "windy").returncode == 0
    assert "fuel.main.remaining_ml" not in stored().channels
    Path("elsewhere").mkdir()
    missing = run("remap", "heron-undated-a", *MAPPED, "--logs", "elsewhere")
    assert missing.returncode == 4
    Path("a.csv").rename("elsewhere/renamed.csv")
    done = run("remap", "heron-undated-a", *MAPPED, "--logs", "elsewhere")
    assert done.returncode == 0, done.stderr
    assert "fuel.main.remaining_ml" in stored().channels
    with Logbook(Path("book")) as book:
        assert book.notes()["heron-undated-a"].remarks == "windy"
        assert book.answers("heron-undated-a")["channel of Zorp"] == "fuel.main.remaining_ml"
        assert "fuel.main.remaining_ml" in book.flight("heron-undated-a").channels
    assert run("check").returncode == 0


def test_names_that_differ_from_the_aircrafts_file_are_told_marked_and_remembered():
    Path("heron.toml").write_text('[aircraft]\nname = "Heron"\n[[tanks]]\nname = "port"\ncapacity_ml = 3000\n')
    assert run("register", "heron.toml").returncode == 0, run("register", "heron.toml").stderr
    Path("b.csv").write_text(LOG.replace("Zorp", "Tank right (ml)"))
    (file,) = planned("b.csv", "--aircraft", "Heron")
    assert file["unsettled"] == ["fuel.right"]
    assert any("--answer part.fuel.right=port|as-written" in n for n in file["notices"])
    assert run("import", "b.csv", "--aircraft", "Heron").returncode == 0
    assert stored().metadata["unsettled"] == "fuel.right"
    assert run("remap", "heron-undated-a", "--answer", "part.fuel.right=port").returncode == 0
    assert "fuel.port.remaining_ml" in stored().channels
    assert "unsettled" not in stored().metadata


def test_nothing_rests_on_a_part_that_is_not_settled_and_what_was_said_is_remembered():
    Path("heron.toml").write_text('[aircraft]\nname = "Heron"\n[[tanks]]\nname = "port"\ncapacity_ml = 3000\n')
    assert run("register", "heron.toml").returncode == 0
    Path("b.csv").write_text(LOG.replace("Zorp", "Tank right (ml)"))
    assert run("import", "b.csv", "--aircraft", "Heron").returncode == 0
    shown = run("show", "latest", "--all").stdout
    assert "part.fuel.right=NAME" in " ".join(shown.split())
    result = analyse_flight(stored(), FlightContext(flight_id="heron-undated-a"))
    assert result.unsettled == ("fuel.right",)
    assert not result.fuel.tanks
    assert run("remap", "heron-undated-a", "--answer", "part.fuel.right=port").returncode == 0
    assert analyse_flight(stored(), FlightContext()).fuel.tanks
    Path("c.csv").write_text(LOG.replace("Zorp", "Tank right (ml)").replace("0.0,", "0.05,", 1))
    assert run("import", "c.csv", "--aircraft", "Heron").returncode == 0
    with Logbook(Path("book")) as book:
        assert all("fuel.port.remaining_ml" in f.channels for f in book.flights())


def test_one_tank_needs_no_name():
    Path("heron.toml").write_text('[aircraft]\nname = "Heron"\n[[tanks]]\nname = "belly"\ncapacity_ml = 3000\n')
    assert run("register", "heron.toml").returncode == 0
    Path("b.csv").write_text(LOG.replace("Zorp", "Fuel remaining (ml)"))
    (file,) = planned("b.csv", "--aircraft", "Heron")
    assert file["unsettled"] == []
    assert any(c["channel"] == "fuel.belly.remaining_ml" for c in file["columns"])


def test_a_flight_is_not_read_again_with_what_fits_nothing():
    assert run("import", "a.csv").returncode == 0
    before = stored().table
    Path("other.toml").write_text('[columns]\n"Nowhere" = "engine.main.egt_c"\n')
    for words, said in (
        (("--column", "Zorpp=fuel.main.remaining_ml"), "'Zorp'"), (("--answer", "decmal=comma"), "'decimal'"),
        (("--answer", "clock=Tim"), "--answer clock 'Tim'"), (("--unit", "RX1 Voltage (V)=parsec"), "parsec"),
        (("--mapping", "other.toml"), "'other'"),
    ):  # fmt: skip
        done = run("remap", "flight-undated-a", *words, "--logs", ".")
        assert done.returncode in (2, 3), words
        assert said in done.stderr
        assert len(done.stderr.splitlines()) == 1
    assert stored().table.equals(before)


def test_a_mapping_written_by_hand_names_the_clock_and_is_refused_where_it_fits_nothing():
    Path("own.toml").write_text('[columns]\n"Time (s)" = "time_s"\n"Zorp" = "extra.mine"\n"Gone" = "extra.gone"\n')
    (file,) = planned("a.csv", "--mapping", "own.toml")
    assert any(c["channel"] == "extra.mine" for c in file["columns"])
    assert any("'Gone'" in n for n in file["notices"])
    Path("none.toml").write_text('[columns]\n"Gone" = "extra.gone"\n')
    assert run("import", "a.csv", "--mapping", "none.toml").returncode == 3


def test_roles_of_registered_packs_are_understood_in_headings():
    Path("heron.toml").write_text(
        '[aircraft]\nname = "Heron"\n[[packs]]\nname = "K7"\nrole = "keel"\n[[packs]]\nname = "K8"\nrole = "rx1"\n'
    )
    Path("b.csv").write_text(LOG.replace("RX1 Voltage (V)", "Keel (V)"))
    (before,) = planned("b.csv")
    assert not any(c["channel"] == "pack.keel.voltage_v" and c["confidence"] > 0.95 for c in before["columns"])
    assert run("register", "heron.toml").returncode == 0
    (after,) = planned("b.csv", "--aircraft", "Heron")
    assert any(c["channel"] == "pack.keel.voltage_v" and c["confidence"] > 0.95 for c in after["columns"])


def test_a_day_read_otherwise_is_the_flights_day_in_catalogue_and_file_alike():
    rows = [f"03/04/2025 10:{i // 60:02}:{i % 60:02},{8.2 - i / 900:.3f}" for i in range(120)]
    Path("d.csv").write_text("Date and time,RX1 Voltage (V)\n" + "\n".join(rows) + "\n")
    assert run("import", "d.csv", "--answer", "date_order=day-first").returncode == 0
    done = run("remap", "latest", "--answer", "date_order=month-first", "--logs", "d.csv")
    assert done.returncode == 0, done.stderr
    with Logbook(Path("book")) as book:
        (flight,) = book.flights()
        assert str(flight.day) == "2025-03-04"
        assert other_cells(book, flight.flight_id) == []
    assert run("check").stdout == "Every file is as it was stored.\n"


def test_a_mapping_that_is_named_is_used_where_half_of_its_channels_are_there():
    done = run("import", "a.csv", *MAPPED, "--column", "Wibble=", "--save-mapping", "mine", "--dry-run")
    assert done.returncode == 0, done.stderr
    Path("c.csv").write_text(
        "\n".join([LOG.splitlines()[0].replace("Ground", "X").replace("Wib", "Wob"), *ROWS]) + "\n"
    )
    (plain,), (named,) = planned("c.csv"), planned("c.csv", "--mapping", "mine")
    assert plain["mapping"] == ""
    assert named["mapping"] == "mine"
    assert next(c for c in named["columns"] if c["heading"] == "Zorp")["channel"] == "fuel.main.remaining_ml"
    assert any("Wobble" in n and "Ground speed (mph)" in n for n in named["notices"])
    assert run("import", "c.csv", "--mapping", "mine", "--answer", "doubtful=as-extras").returncode == 0
    # Read again with another correction, the mapping that was named is still the one.
    done = run("remap", "latest", "--column", "RX1 Voltage (V)=pack.rx2.voltage_v")
    assert done.returncode == 0, done.stderr
    assert {"pack.rx2.voltage_v", "fuel.main.remaining_ml"} <= set(stored().channels)
    Path("d.csv").write_text(LOG.replace("RX1 Voltage (V)", "RSSI (dBm)").replace("Ground", "X").replace("Zorp", "Y"))
    refused = run("import", "d.csv", "--mapping", "mine")
    assert refused.returncode == 3
    assert "'RX1 Voltage (V)', 'Ground speed (mph)', 'Zorp'" in said_once(refused)


@pytest.mark.parametrize(
    ("answers", "near"), [({"unit.zorb": "mL"}, "unit.zorp"), ({"date_oder": "day-first"}, "date_order")]
)
def test_a_mapping_that_answers_what_nobody_asks_is_refused(answers, near):
    said = "\n".join(f'"{k}" = "{v}"' for k, v in answers.items())
    Path("m.toml").write_text(f'[columns]\nZorp = "fuel.main.remaining_ml"\n[answers]\n{said}\n')
    done = run("import", "a.csv", "--dry-run", "--mapping", "m.toml")
    assert done.returncode == 3
    assert f"did you mean '{near}'?" in said_once(done)


def test_an_answer_given_now_wins_over_the_unit_of_the_mapping():
    run("import", "a.csv", *MAPPED, "--column", "Wibble=", "--save-mapping", "mine", "--dry-run")
    (now,) = planned("a.csv", "--answer", "unit.zorp=L")
    assert next(c for c in now["columns"] if c["heading"] == "Zorp")["conversion"] == "L → mL"


def test_the_clock_is_named_as_a_column_too():
    Path("b.csv").write_text(LOG.replace("Time (s)", "Blip"))
    assert run("import", "b.csv", "--dry-run").returncode == 3
    (seen,) = planned("b.csv", "--column", "Blip=time_s", *MAPPED)
    assert seen["clock_columns"] == ["Blip"]


def test_rows_without_a_clock_are_counted_at_a_rate_that_is_said():
    Path("b.csv").write_text("\n".join(line.partition(",")[2] for line in LOG.splitlines()) + "\n")
    refused = run("import", "b.csv", *MAPPED)
    assert "rate=10" in said_once(refused)
    assert run("import", "b.csv", *MAPPED, "--answer", "rate=250 ms").returncode == 0
    assert stored().table.column("time_s").to_pylist()[-1] == pytest.approx(119 / 4)


@pytest.mark.parametrize(("columns", "language"), [(40, "en"), (80, "de"), (160, "en")])
def test_a_dry_run_fits_the_terminal(columns, language):
    rows = [f"{i / 4:.2f},{8.2 - i / 900:.3f},20,{7.9 - i / 800:.3f},{i}" for i in range(120)]
    Path("b.csv").write_text("\n".join([LOG.splitlines()[0].replace("Zorp", "Zorp battery (V)"), *rows]) + "\n")
    done = run("import", "b.csv", "--dry-run", "--language", language, env={"COLUMNS": str(columns)})
    lines = [line for line in done.stdout.splitlines() if "--column" not in line and "--answer" not in line]
    assert max(map(len, lines)) <= columns
    assert "pack.zorp.voltage_v" in done.stdout

import datetime
from pathlib import Path

import pytest
from front import run

from analyser.core.aircraft import Reserve
from importers.refusal import Refusal
from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from spooldown.problems import LogbookProblem, NotFoundProblem


def test_the_example_reads():
    file = register.parse(register.EXAMPLE.encode(), "heron.toml")
    assert register.Register({}).place_of(file) == "heron.toml"
    assert file.aircraft.reserve == Reserve(percent=25)
    assert not file.aircraft.fuel.density_is_assumed
    assert file.aircraft.layouts[0].antennas[0].axis == (0.0, 0.0, 1.0)
    assert file.packs[0].in_service_since == datetime.date(2020, 1, 1)


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        (
            "max_egt_c",
            "max_eg_c",
            17,
            "'engines[1].max_eg_c': found the unknown key 'max_eg_c', expected 'max_egt_c'",
        ),
        ('"li_ion"', '"liion"', 44, "did you mean 'li_ion'"),
        ("[0, 0, 1] ", "[0, 0]", 38, "expected 3 items"),
        ("[0, 0, 1] ", "[0, 0, 0]", None, "zero vector"),
        ("= 4200", '= "4200"', 23, "found text ('4200'), expected a number"),
        ("= 4200", "= nan", 23, "expected a finite number"),
        ("= 4200", "= true", 23, "expected a number"),
        ("cells = 2", "cells = 2.5", 45, "expected a whole number"),
        ("= 4200", "= -1", 23, "found −1, expected a number from 1 to 1"),
        ("[aircraft]", "[aircraft", 4, "not TOML"),
        ('name = "Heron"', "", 4, "found no 'name'"),
        ("[[packs]]", "[[pack]]", 40, "did you mean 'packs'"),
        ("percent = 25", "percnt = 25", 9, "did you mean 'percent'"),
        ("[aircraft]", "[aircraf]", 4, "did you mean 'aircraft'"),
        ('name = "Heron"', r'name = "Her\u202Eon"', 5, "none of them unseen"),
        ('name = "A1"', f'name = "{"A" * 81}"', 41, "at most 80 characters"),
    ],
)
def test_a_slip_is_named_with_its_place(old, new, line, says):
    assert old in register.EXAMPLE
    with pytest.raises(Refusal) as refused:
        register.parse(register.EXAMPLE.replace(old, new, 1).encode(), "heron.toml")
    assert says in str(refused.value)
    assert refused.value.line == line or line is None
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("data", [b"", b"\x00\xff\xfe", b"label = 'x'", b"[[tanks]]\nname='a'"])
def test_nothing_to_register(data):
    with pytest.raises(Refusal):
        register.parse(data, "x.toml")


def test_copies_are_kept_verbatim_and_read_afresh(tmp_path):
    data = register.EXAMPLE.encode()
    with Logbook(tmp_path / "book") as book:
        for expected in ("added", "unchanged"):
            assert register.add(book, data, "h.toml").outcome == expected
        copy = book.register_folder / "heron.toml"
        assert copy.read_bytes() == data
        copy.write_bytes(data.replace(b"21.5", b"22.5"))
        assert register.load(book).aircraft["Heron"].mass_kg == 22.5
        again = register.add(book, data, "h.toml")
        assert again.outcome == "replaced"


def test_a_pack_is_named_once(tmp_path):
    data = register.EXAMPLE.encode()
    loose = b"[[packs]]\nname = 'a1'\n"
    with Logbook(tmp_path / "book") as book:
        register.add(book, data, "h.toml")
        with pytest.raises(Refusal, match="names too"):
            register.add(book, loose, "p.toml")
        assert [p.name for p in book.register_folder.iterdir()] == ["heron.toml"]


def test_a_noted_pack_stays(tmp_path):
    from made import draft, source

    data = register.EXAMPLE.encode()
    without = data.split(b"[[packs]]")[0]
    with Logbook(tmp_path / "book") as book:
        register.add(book, data, "h.toml")
        (flight,) = book.add([source()], [draft()], aircraft="Heron")
        book.set_notes({flight: FlightNote(packs={"rx1": "A1"})})
        with pytest.raises(NotFoundProblem, match="'A1'"):
            register.add(book, without, "h.toml")


def test_packs_never_take_the_place_of_an_aircraft_nor_one_aircraft_that_of_another(tmp_path):
    packs = b"[[packs]]\nname = 'B1'\n"
    with Logbook(tmp_path / "book") as book:
        assert register.add(book, register.EXAMPLE.encode(), "my.toml").copy_name == "heron.toml"
        for expected in ("added", "unchanged"):
            again = register.add(book, packs, "elsewhere/heron.toml")
            assert (again.outcome, again.copy_name) == (expected, "heron-2.toml")
        for name in ("Чайка", "Цапля", "Ωμέγα"):  # no letter of these is left in a file name
            register.add(book, f"[aircraft]\nname = '{name}'\n".encode(), "my.toml")
        known = register.load(book)
        assert set(known.aircraft) == {"Heron", "Чайка", "Цапля", "Ωμέγα"}
        assert set(known.packs) == {"A1", "B1"}
        assert known.find_aircraft("ЦАПЛЯ").name == "Цапля"
        assert known.find_aircraft("цап") is None
        heavier = "[aircraft]\nname = 'Цапля'\nmass_kg = 20\n".encode()
        assert register.add(book, heavier, "my.toml").outcome == "replaced"
        assert register.load(book).aircraft["Цапля"].mass_kg == 20
        assert len(register.load(book).aircraft) == 4


def test_a_key_that_nothing_reads_is_refused_in_a_new_file_and_passed_over_in_a_kept_one(tmp_path):
    old = b"[aircraft]\nname = 'Heron'\nstall_speed_m_s = 18\n"
    with Logbook(tmp_path / "book") as book:
        with pytest.raises(Refusal, match="stall_speed_m_s"):
            register.add(book, old, "heron.toml")
        book.register_folder.mkdir(parents=True)
        (book.register_folder / "heron.toml").write_bytes(old)  # as an earlier version kept it
        assert set(register.load(book).aircraft) == {"Heron"}


def test_of_several_files_all_are_kept_or_none(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("heron.toml").write_text(register.EXAMPLE)
    Path("packs.toml").write_text("[[packs]]\nname = 'a1'\n")
    for words in (("--dry-run",), ()):
        done = run("register", "heron.toml", "packs.toml", *words, "--logbook", "book")
        assert done.returncode == 3
        assert "names too" in done.stderr
        assert done.stdout == ""
        assert not Path("book").exists()


def test_a_copy_that_cannot_be_read_is_named(tmp_path):
    with Logbook(tmp_path / "book") as book:
        register.add(book, register.EXAMPLE.encode(), "h.toml")
        (book.register_folder / "odd.toml").mkdir()
        with pytest.raises(LogbookProblem, match=r"odd\.toml cannot be read"):
            register.load(book)


@pytest.mark.parametrize("digits", [400, 5000])
def test_a_number_without_end_is_no_number(digits):
    with pytest.raises(Refusal, match="number"):
        register.parse(f"[aircraft]\nname = 'X'\nmass_kg = 1{'0' * digits}\n".encode(), "x.toml")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("mass_kg = -3", "line 3, column 'aircraft.mass_kg': found −3, expected a number from 0.05 to 1"),
        ("mass_kg = 0.0", "found 0"),
        ("radio_mhz = 0", "line 3, column 'aircraft.radio_mhz': found 0, expected a number from 1 to 100"),
        (
            "reserve = { percent = 200 }",
            "column 'aircraft.reserve.percent': found 200, expected a number from 0 to 100",
        ),
        ("fuel = { oil_percent = 120 }", "oil_percent': found 120"),
        ("fuel = { density_15c_kg_m3 = 8.0 }", "found 8"),
        ("[[tanks]]\nname = 'a'\ncapacity_ml = 1e12", "line 5, column 'tanks[1].capacity_ml'"),
        ("[[engines]]\nname = 'a'\nmax_rpm = -1", "max_rpm': found −1"),
        ("[[packs]]\nname = 'P'\ncells = 400", "column 'packs[1].cells': found 400"),
        ("[[packs]]\nname = 'P'\nrated_mah = 1e9", "rated_mah"),
        ("[[packs]]\nname = 'P'\nreserve_percent = 140", "reserve_percent': found 140"),
    ],
)
def test_what_nothing_can_weigh_hold_or_send_is_refused(text, says):
    with pytest.raises(Refusal) as refused:
        register.parse(f"[aircraft]\nname = 'M'\n{text}\n".encode(), "m.toml")
    assert says in str(refused.value)


def test_a_kept_copy_may_hold_a_name_that_an_earlier_version_took():
    text = register.EXAMPLE.replace('name = "Heron"', r'name = "Her\u202Eon"').encode()
    assert register.parse(text, "heron.toml", kept=True).aircraft.name == "Her\u202eon"

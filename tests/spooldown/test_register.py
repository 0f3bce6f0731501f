import datetime

import pytest

from analyser.aircraft import Reserve
from importers.refusal import Refusal
from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from spooldown.problems import NotFoundProblem


def test_the_example_reads():
    file = register.parse(register.EXAMPLE.encode(), "heron.toml")
    assert file.copy_name == "heron.toml"
    assert file.aircraft.reserve == Reserve(percent=25)
    assert not file.aircraft.fuel.density_is_assumed
    assert file.aircraft.layouts[0].antennas[0].axis == (0.0, 0.0, 1.0)
    assert file.packs[0].in_service_since == datetime.date(2030, 1, 1)


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        (
            "max_egt_c",
            "max_eg_c",
            15,
            "'engines[1].max_eg_c': found the unknown key 'max_eg_c', expected 'max_egt_c'",
        ),
        ('"li_ion"', '"liion"', 41, "did you mean 'li_ion'"),
        ("[0, 0, 1] ", "[0, 0]", 36, "expected 3 items"),
        ("[0, 0, 1] ", "[0, 0, 0]", None, "zero vector"),
        ("= 4200", '= "4200"', 21, "found text ('4200'), expected a number"),
        ("= 4200", "= nan", 21, "expected a finite number"),
        ("= 4200", "= true", 21, "expected a number"),
        ("cells = 2", "cells = 2.5", 42, "expected a whole number"),
        ("= 4200", "= -1", 18, "capacity_ml must be a positive number"),
        ("[aircraft]", "[aircraft", 2, "not TOML"),
        ('name = "Heron"', "", 2, "found no 'name'"),
        ("[[packs]]", "[[pack]]", 38, "did you mean 'packs'"),
        ("percent = 25", "percnt = 25", 7, "did you mean 'percent'"),
        ("[aircraft]", "[aircraf]", 2, "did you mean 'aircraft'"),
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
            assert register.add(book, register.load(book), register.parse(data, "h.toml"), data) == expected
        copy = book.register_folder / "heron.toml"
        assert copy.read_bytes() == data
        copy.write_bytes(data.replace(b"21.5", b"22.5"))
        assert register.load(book).aircraft["Heron"].mass_kg == 22.5
        again = register.add(book, register.load(book), register.parse(data, "h.toml"), data)
        assert again == "replaced"


def test_a_pack_is_named_once(tmp_path):
    data = register.EXAMPLE.encode()
    loose = b"[[packs]]\nname = 'a1'\n"
    with Logbook(tmp_path / "book") as book:
        register.add(book, register.load(book), register.parse(data, "h.toml"), data)
        with pytest.raises(Refusal, match="names too"):
            register.add(book, register.load(book), register.parse(loose, "p.toml"), loose)
        assert [p.name for p in book.register_folder.iterdir()] == ["heron.toml"]


def test_a_noted_pack_stays(tmp_path):
    from made import draft, source

    data = register.EXAMPLE.encode()
    without = data.split(b"[[packs]]")[0]
    with Logbook(tmp_path / "book") as book:
        register.add(book, register.load(book), register.parse(data, "h.toml"), data)
        (flight,) = book.add([source()], [draft()], aircraft="Heron")
        book.set_notes({flight: FlightNote(packs={"rx1": "A1"})})
        with pytest.raises(NotFoundProblem, match="'A1'"):
            register.add(book, register.load(book), register.parse(without, "h.toml"), without)

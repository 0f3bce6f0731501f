"""One file of the register, or one saved mapping, that does not read: it costs what depends on it, and is said once."""

import pytest
from front import run, said_once
from made import draft, register_example, source

from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.upkeep.checking import check

GULL = '[aircraft]\nname = "Gull"\n\n[[packs]]\nname = "G1"\nrole = "rx1"\nchemistry = "li_ion"\ncells = 2\n'


@pytest.fixture
def folder(tmp_path):
    with Logbook(tmp_path / "book") as book:
        register_example(book)
        register.add(book, GULL.encode(), "gull.toml")
        for n, aircraft in enumerate(("Heron", "Gull")):
            book.add([source(f"{n}.csv", f"{n:064x}")], [draft(rows=80 + n)], aircraft=aircraft)
    return tmp_path / "book"


def test_a_file_of_the_register_that_does_not_read_costs_its_own_aircraft_alone(folder):
    path, book = folder / "register" / "heron.toml", ("--logbook", folder)
    whole = path.read_bytes()
    path.write_bytes(b"rubbish = [")
    for words in (("flights",), ("export", "flights"), ("pages",), ("service", "list"), ("aircraft",), ("packs",)):
        done = run(*words, *book)
        assert (done.returncode, done.stderr.count("heron.toml"), done.stderr.count("\n")) == (7, 1, 1), words
        assert words[0] != "service" or "Heron" not in done.stdout
    pages = folder / "pages"
    assert (pages / "flights" / "gull-2031-04-05-a.html").is_file()
    assert "heron.toml" in (pages / "index.html").read_text("utf-8")
    assert run("show", "gull 1", *book).returncode == 7
    for words in (("show", "heron 1"), ("before", "Heron"), ("note", "gull 1", "--remarks", "x")):
        assert "heron.toml" in said_once(run(*words, *book)), words
    path.write_bytes(whole)
    assert run("flights", *book).returncode == 0
    assert check(folder) == []


def test_a_file_of_the_register_or_limits_that_is_gone_is_said(folder):
    book = ("--logbook", folder)
    run("limits", "start", "Gull", *book)
    for name in ("register/heron.toml", "limits/gull.toml"):
        kept = (folder / name).read_bytes()
        (folder / name).unlink()
        done = run("flights", *book)
        assert (done.returncode, f"{name} is not there any more" in done.stderr) == (7, True)
        (folder / name).write_bytes(kept)
    assert run("flights", *book).returncode == 0
    (folder / "limits" / "gull.toml").unlink()
    run("check", "--repair", *book)
    assert run("flights", *book).returncode == 0  # whoever took it out has said so


def test_a_mapping_that_does_not_read_costs_logs_that_no_other_one_knows(folder, tmp_path):
    book, logs = ("--logbook", folder), tmp_path / "logs"
    logs.mkdir()
    rows = "".join(f"{i / 10},{8 + i % 7 / 100},{i % 5}\n" for i in range(60))
    (tmp_path / "first.csv").write_text(f"Time (s),RX1 Voltage (V),Wibble\n{rows}")
    done = run("import", tmp_path / "first.csv", "--save-mapping", "mine", "--column", "Wibble=", *book)
    assert done.returncode == 0, done.stderr
    (folder / "mappings" / "broken.toml").write_text("columns = [")
    (logs / "known.csv").write_text(f"Time (s),RX1 Voltage (V),Wibble\n{rows.replace(',8.0', ',7.9')}")
    (logs / "other.csv").write_text(f"Time (s),RX2 Voltage (V),Wobble\n{rows}")
    done = run("import", logs, *book)
    assert (done.returncode, done.stderr.count("broken.toml"), done.stderr.count("\n")) == (3, 1, 1)
    assert "known.csv" in done.stdout
    with Logbook(folder) as kept:
        assert len(kept.flight_ids()) == 4

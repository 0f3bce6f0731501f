import json

import pytest
from front import ANY_SHELL, everything, run
from made import draft, source

from spooldown.logbook.book import Logbook
from spooldown.register import EXAMPLE


@pytest.fixture
def folder(tmp_path):
    with Logbook(tmp_path / "book") as book:
        book.add([source("[red]<b>\x1b[31m.csv")], [draft()], aircraft="Heron")
    (tmp_path / "heron.toml").write_text(EXAMPLE)
    return tmp_path


def test_register_note_list_remove(folder):
    book = ("--logbook", folder / "book")
    dry = everything(folder / "book")
    assert "would be added" in run("register", folder / "heron.toml", "--dry-run", *book).stdout
    assert everything(folder / "book") == dry
    assert run("register", folder / "heron.toml", *book).returncode == 0
    flight = "heron-2031-04-05-a"
    words = ("note", flight, "--pack", "rx1=a1", "--fuel-before", "main=4000", "--remarks", "[bold]x", *book)
    before = everything(folder / "book")
    assert run(*words, "--dry-run").returncode == 0
    assert everything(folder / "book") == before
    assert run(*words).returncode == 0
    listed = json.loads(run("flights", "--json", *book).stdout)
    assert [(f["flight"], f["noted"]) for f in listed] == [(flight, True)]
    assert json.loads(run("packs", "--json", *book).stdout)[0]["noted in"] == 1
    assert json.loads(run("aircraft", "--json", *book).stdout)[0]["flights"] == 1
    shown = run("flights", *book).stdout
    assert "[red]<b>" in shown
    assert "\x1b" not in shown
    assert run("remove", flight, "--dry-run", *book).returncode == 0
    assert run("remove", flight, "--yes", *book).returncode == 0
    assert json.loads(run("flights", "--json", *book).stdout) == []


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("flights", "--logbook", "nowhere"), 4, "no logbook"),
        (("show", "heron-2031-04-05-b"), 4, "did you mean 'heron-2031-04-05-a'"),
        (("note", "heron-2031-04-05-a", "--pack", "rx1=Z9"), 4, "no pack 'Z9'"),
        (("note", "heron-2031-04-05-a", "--charged", "rx1=lots"), 2, "wants a number"),
        (("note", "heron-2031-04-05-a", "--charged", "lots"), 2, "NAME=VALUE"),
        (("note",), 2, "one of the two"),
        (("register",), 2, "name a TOML file"),
        (("register", "typo.toml"), 3, "did you mean 'mass_kg'"),
        (("register", "gone.toml"), 4, "cannot be read"),
        (("import", "gone.csv"), 4, "no file or folder"),
        (("export", "figures", "--format", "xlsx"), 2, "csv, json or parquet"),
        (("pages", "--compare", "nope"), 4, "no flight 'nope'"),
    ],
)
def test_trouble_is_one_sentence_and_a_code(folder, monkeypatch, words, code, says):
    (folder / "typo.toml").write_text("[aircraft]\nname = 'X'\nmass_gk = 2\n")
    monkeypatch.chdir(folder)
    before = everything(folder)
    done = run(*words, env={"SPOOLDOWN_LOGBOOK": "book"})
    assert (done.returncode, done.stdout) == (code, "")
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert everything(folder) == before


def test_completion_offers_flights(folder):
    script = run("--show-completion", "bash", env=ANY_SHELL)
    assert script.returncode == 0
    done = run(
        env={
            "_SPOOLDOWN_COMPLETE": "complete_bash",
            "COMP_WORDS": "spooldown show her",
            "COMP_CWORD": "2",
            "SPOOLDOWN_LOGBOOK": str(folder / "book"),
        }
    )
    assert "heron-2031-04-05-a" in done.stdout


def test_interrupted_it_says_so_and_keeps_whole_flights_only(folder, monkeypatch):
    from spooldown.intake import adding

    before = everything(folder)
    (folder / "new.csv").write_text("Time (s),RX1 Voltage (V)\n" + "".join(f"{i / 10},8\n" for i in range(60)))

    def interrupt(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(adding, "read", interrupt)
    done = run("import", folder / "new.csv", "--logbook", folder / "book")
    assert done.returncode == 130
    assert done.stderr.splitlines() == [
        "spooldown: 0 of 1 files are imported and stay; the same command goes on with the others.",
        "spooldown: interrupted; the logbook holds whole flights only.",
    ]
    (folder / "new.csv").unlink()
    assert everything(folder) == before


def test_the_same_log_from_two_at_once_is_there_once_and_no_fault_of_anybody(folder, monkeypatch):
    from spooldown.intake import adding

    (folder / "new.csv").write_text("Time (s),RX1 Voltage (V)\n" + "".join(f"{i / 10},8\n" for i in range(60)))
    words = ("import", folder / "new.csv", "--logbook", folder / "book")
    whole = adding.plan

    def overtaken(*items, **named):
        monkeypatch.setattr(adding, "plan", whole)
        assert run(*words).returncode == 0
        return whole(*items, **named)

    monkeypatch.setattr(adding, "plan", overtaken)
    done = run(*words)
    assert done.returncode == 0
    assert "already in the logbook" in done.stdout

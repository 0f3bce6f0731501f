"""The command line in German: what it prints, asks, refuses and helps with holds no English sentence."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from front import run
from made import register_example

from spooldown import cli
from spooldown.commands.shell import language
from spooldown.logbook.book import Logbook

SAMPLES = Path(__file__).parent.parent.parent / "sample_logs"

# Words that a German sentence of ours never holds; those of both languages ("an", "in", "so") are not among them.
ENGLISH = re.compile(
    r"\b(the|and|is|are|were|not|no|with|from|for|of|its|this|that|what|which|there|here|has|have|would|could|"
    r"flights?|found|expected|wants|written|already|unchanged|removed|column|value|file|folder|registered|name one)\b"
)
# Not prose: commands, options, file names, paths, dotted names, names in quotation marks, keys and headings of data.
ASIDE = re.compile(r"`[^`]*`|--[\w-]+(=\S+)?|„[^“]*“|\S*[./_=|]\S+|\([^()]*_[^()]*\)")


def english(text: str) -> list[str]:
    plain = ASIDE.sub(" ", text)
    return [f"{m.group()}: …{plain[max(0, m.start() - 40) : m.end() + 40]}…" for m in ENGLISH.finditer(plain)]


def test_english_is_seen() -> None:
    assert english("there is no logbook at x")
    assert not english("Bei /tmp/the/flight ist kein Flugbuch; `spooldown flights` oder „the log“ mit --file=x nennen.")


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("german") / "book"
    with Logbook(place) as made:
        register_example(made)
    done = german("import", SAMPLES / "tern" / "tern-2026-04-18.csv", "--aircraft", "Heron", "--logbook", place)
    assert done == (0, []), done
    return place


def german(*words: object, stdin: bytes = b"") -> tuple[int, list[str]]:
    """Run a command in German; its exit code and what of its output is English."""
    done = run(*words, "--language", "de", stdin=stdin, env={"SPOOLDOWN_LANGUAGE": ""})
    return done.returncode, english(done.stdout) + english(done.stderr)


FLIGHT = "heron-2026-04-18-a"


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("flights",), 0), (("show", "latest"), 0), (("aircraft",), 0), (("engines",), 0), (("layouts",), 0),
        (("packs",), 0), (("bin", "list"), 0), (("check",), 0), (("range-check", "list"), 0),
        (("import", SAMPLES / "tern" / "tern-2026-04-18.csv"), 0),
        (("import", SAMPLES / "tern" / "tern-2026-04-18.csv", "--dry-run"), 0),
        (("import", SAMPLES / "plover", "--dry-run"), 0),
        (("note", FLIGHT, "--remarks", "x", "--dry-run"), 0), (("remove", FLIGHT, "--dry-run"), 0),
        (("backup", "x.zip", "--dry-run"), 0), (("pages", "--dry-run"), 0), (("export", "--dry-run"), 0),
        (("remove", FLIGHT), 130),
        (("show", "nix"), 4), (("remove", "nix"), 4), (("export", "nix"), 2), (("note",), 2), (("register",), 2),
        (("note", FLIGHT, "--pack", "x"), 2), (("note", FLIGHT, "--fuel-before", "main=x"), 2),
        (("note", FLIGHT, "--fuel-before", "mein=5"), 4), (("note", FLIGHT, "--pilot", "1"), 2),
        (("note", FLIGHT, "--pack", "rx1=Z9"), 4), (("flights", "--aircraft", "Herron"), 4),
        (("import", "nix.csv"), 4), (("import", "--join", SAMPLES / "tern" / "tern-2026-04-18.csv"), 2),
        (("pages", "--compare", FLIGHT), 2), (("check", "--logs", "x"), 2), (("restore", "nix.zip"), 4),
        (("range-check", "add"), 2), (("range-check", "remove", "7"), 4), (("remap", FLIGHT, "--logs", "."), 4),
        (("import", SAMPLES / "tern" / "tern-2026-04-18.csv", "--column", "x=pack.voltag_v", "--dry-run"), 3),
        (("import", SAMPLES / "tern" / "tern-2026-04-18.csv", "--answer", "zoen=UTC", "--dry-run"), 2),
    ],
)  # fmt: skip
def test_commands_speak_german(
    book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[object, ...], code: int
) -> None:
    monkeypatch.chdir(tmp_path)
    where = () if words[0] == "restore" else ("--logbook", book)
    assert german(*words, *where) == (code, [])


HEAD = "Time (s),RX Volt (V),Height (m)\n"
ROWS = "".join(f"{i / 10:.1f},7.{i % 9},{i}\n" for i in range(60))
BAD: dict[str, bytes] = {
    "empty": b"", "binary": bytes(range(1, 32)) * 40, "picture": b"\x89PNG\r\n" * 20, "page": b"<html><body>x",
    "no_header": ROWS.encode(), "no_rows": HEAD.encode(),
    "no_clock": b"RX Volt (V),Height (m)\n" + b"7.4,10\n7.3,11\n" * 30,
    "still": HEAD.encode() + b"1.0,7.4,10\n" * 40, "words": b"just some words\nand some more of them\n",
    "unknown": b"Time (s),Wibble\n" + b"".join(b"%d,%d\n" % (i, i) for i in range(40)),
    "text": b"Time (s),RX Volt (V)\n" + b"".join(b"%d,abc\n" % i for i in range(40)),
    "ragged": HEAD.encode() + b"1,2,3,4,5,6\n2,3,4,5,6,7\n" * 30,
    "mixed": b"Time (s);RX Volt (V);Height (m)\n" + b"".join(b"%d;7,%d;%d.5\n" % (i, i % 9, i) for i in range(60)),
    "open_unit": b"Time (s),Fuel\n" + b"".join(b"%d,%d\n" % (i, 90 - i) for i in range(60)),
    "open_date": b"Date,Time,RX Volt (V)\n" + b"".join(b"03/04/2026,10:00:%02d,7.4\n" % i for i in range(59)),
    "doubtful": b"Time (s),Blorb voltage\n" + b"".join(b"%d,7.%d\n" % (i, i % 9) for i in range(60)),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_logs_are_refused_in_german(book: Path, tmp_path: Path, name: str) -> None:
    log = tmp_path / "x.csv"
    log.write_bytes(BAD[name])
    code, found = german("import", log, "--dry-run", "--logbook", book)
    assert found == []
    done = run("import", log, "--logbook", book, "--language", "de", env={"SPOOLDOWN_LANGUAGE": ""})
    assert english(done.stdout) + english(done.stderr) == []
    assert (code, done.returncode) != (0, 0) or done.stdout


TOML = {
    "syntax": b"[aircraft\nname = 1", "empty": b"", "key": b'[aircraft]\nnamme = "X"\n',
    "kind": b"[aircraft]\nname = 3\n",
    "stray": b'[[tanks]]\nname = "x"\n', "choice": b'[[packs]]\nname = "x"\nchemistry = "lead"\ncells = 2\n',
    "bytes": b'[aircraft]\nname = "\xff"\n', "list": b'aircraft = { name = "X" }\npacks = 3\n',
}  # fmt: skip


@pytest.mark.parametrize("name", TOML)
def test_register_files_are_refused_in_german(book: Path, tmp_path: Path, name: str) -> None:
    file = tmp_path / "x.toml"
    file.write_bytes(TOML[name])
    code, found = german("register", file, "--logbook", book)
    assert (code, found) == (3, [])


SHEETS = {
    "column": b"log_file,layuot\nx.csv,first\n", "twice": b"log_file,log_file\nx,x\n", "none": b"log_file\n",
    "log": b"log_file\nnix.csv\n", "cells": b"log_file,part\nx,1,2\n",
    "number": b"log_file,air_temperature_c\ntern-2026-04-18.csv,warm\n",
    "layout": b"log_file,layout\ntern-2026-04-18.csv,second\n",
    "flight_twice": b"log_file\ntern-2026-04-18.csv\ntern-2026-04-18.csv\n",
}  # fmt: skip


@pytest.mark.parametrize("name", SHEETS)
def test_sheets_are_refused_in_german(book: Path, tmp_path: Path, name: str) -> None:
    sheet = tmp_path / "x.csv"
    sheet.write_bytes(SHEETS[name])
    code, found = german("note", "--sheet", sheet, "--logbook", book)
    assert (code, found) == (3, [])


def test_every_help_text_has_german_words() -> None:
    words = language._words("de")
    lacking = set()
    for command in language._all(cli.command_line("en")):
        for thing in (command, *command.params):
            for name in ("help", "epilog", "show_default", "rich_help_panel"):
                text = getattr(thing, name, None)
                if isinstance(text, str) and text and " ".join(text.split()) not in words:
                    lacking.add(" ".join(text.split()))
    assert lacking == set()


def test_no_german_help_is_left_of_what_is_gone() -> None:
    said = set()
    for command in language._all(cli.command_line("en")):
        for thing in (command, *command.params):
            for name in ("help", "epilog", "show_default", "rich_help_panel"):
                said.add(" ".join(str(getattr(thing, name, "")).split()))
    of_the_frame = {
        "Commands", "Options", "Arguments", "required", "default: {default}", "env var: {var}", "Missing command.",
        "Usage:",
        "No such command {name!r}.", "Show this message and exit.",
    }  # fmt: skip
    assert set(language._words("de")) - said == of_the_frame


def test_help_is_german_where_the_logbook_says_so(book: Path, tmp_path: Path) -> None:
    assert "Optionen:" in run("flights", "--help", "--language", "de").stdout
    assert "Options:" in run("flights", "--help").stdout
    # The answer to the choice is in the language that was chosen.
    assert "Einstellung" in run("settings", "--language", "de", "--logbook", book).stdout
    done = run("show", "nix", "--logbook", book, env={"SPOOLDOWN_LANGUAGE": ""})
    assert done.stderr.startswith("spooldown: Es gibt keinen Flug „nix“")
    assert "setting" in run("settings", "--language", "en", "--logbook", book).stdout


def test_a_language_there_is_none_of_is_refused() -> None:
    done = run("flights", "--language", "xx")
    assert (done.returncode, done.stdout) == (2, "")
    assert "wants one of en, de" in done.stderr

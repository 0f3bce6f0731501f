import json
import os
import re
import subprocess
import sys

import pytest
import typer
from front import run
from made import draft, source

from spooldown.cli import COMMANDS, app
from spooldown.logbook.book import Logbook
from spooldown.register import EXAMPLE
from spooldown.terminal import bytes_bar, clean, say_json, steps_bar

try:
    import pty
except ImportError:  # not on every system
    pty = None


@pytest.mark.parametrize("bad", ["\x1b[31m", "\x07", "\r", "\u202e", "\u2028", "\x9b"])
def test_text_from_files_cannot_steer_the_terminal(bad):
    assert not set(clean(f"a{bad}b")) & set("\x1b\x07\r\u202e\u2028\x9b")


def test_figures_and_names_stay_as_they_are():
    assert clean("1\u202f860 mL, Tërn [bold] −3 °C") == "1\u202f860 mL, Tërn [bold] −3 °C"


LONG_NAME = "a rather long folder name/" * 8 + "and a log with a long name too.csv"


def on_a_terminal(words, env, columns=80):
    """Run the command with a pseudo-terminal for both streams; returns what it showed."""
    master, terminal = pty.openpty()
    child = subprocess.Popen(
        [sys.executable, "-m", "spooldown", *map(str, words)],
        stdin=terminal,
        stdout=terminal,
        stderr=terminal,
        env={**os.environ, **env, "COLUMNS": str(columns), "TERM": "xterm-256color"},
    )
    os.close(terminal)
    shown = b""
    try:
        while piece := os.read(master, 1 << 16):
            shown += piece
    except OSError:  # Linux says so when the other end closes
        pass
    os.close(master)
    assert child.wait(60) == 0, shown
    return shown.decode()


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    folder = tmp_path_factory.mktemp("terminal")
    with Logbook(folder / "book") as opened:
        opened.add([source(LONG_NAME)], [draft()], aircraft="Heron")
    (folder / "heron.toml").write_text(EXAMPLE)
    assert run("register", folder / "heron.toml", "--logbook", folder / "book").returncode == 0
    return folder / "book"


@pytest.mark.skipif(pty is None, reason="no pseudo-terminals here")
@pytest.mark.parametrize("command", [("flights",), ("show", "heron-2031-04-05-a", "--all"), ("layouts",)])
def test_eighty_columns_without_colour(book, command):
    shown = on_a_terminal([*command, "--logbook", book], {"NO_COLOR": "1"})
    lines = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", shown).replace("\r", "").splitlines()
    tables = [line for line in lines if "──" in line]
    assert tables
    assert all(len(line) <= 80 for line in tables)
    assert not re.search(r"\x1b\[(?:\d+;)*(?:3[0-8]|4[0-8]|9\d|10\d)", shown)
    if command == ("flights",):  # folded, never cut
        letters = "".join("".join(line.split()) for line in lines)
        assert "…" not in letters


def test_piped_tables_keep_every_name_whole(book):
    done = run("flights", "--logbook", book)
    assert LONG_NAME in done.stdout
    assert "\x1b" not in done.stdout


def test_progress_is_for_a_terminal_only(book, capsys):
    with steps_bar(quiet=False) as step, bytes_bar(10, quiet=False) as update:
        step("x", 1, 2)
        update("x", 5)
    assert capsys.readouterr() == ("", "")
    done = run("show", "heron-2031-04-05-a", "--logbook", book)
    assert done.stderr == ""


def test_a_stream_without_the_letters_is_no_fault(book):
    done = subprocess.run(
        [sys.executable, "-m", "spooldown", "flights", "--logbook", str(book)],
        env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"},
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0
    assert b"heron-2031-04-05-a" in done.stdout


def test_the_help_names_every_command_in_whole_sentences():
    shown = run("--help", env={"COLUMNS": "80"}).stdout
    assert "..." not in shown.replace("[ARGS]...", "")
    assert all(len(line) <= 80 for line in shown.splitlines())
    listed = [name for commands in COMMANDS.values() for name in commands]
    for name in listed:
        assert re.search(rf"^  {name} ", shown, re.MULTILINE), name
    assert len(listed) == len(set(listed))


def test_options_are_alike_everywhere():
    """One thing has one name and one kind of value in every command: whose, which logbook, for a script, only look."""

    def walk(command):
        for one in getattr(command, "commands", {}).values():
            yield from walk(one)
        yield command

    kinds = {}
    for command in walk(typer.main.get_command(app)):
        for parameter in command.params:
            for option in parameter.opts:
                if option in ("--logbook", "--json", "--dry-run", "--aircraft", "--language", "--yes"):
                    kinds.setdefault(option, set()).add(
                        (parameter.param_type_name, parameter.is_flag, parameter.multiple)
                    )
            if (
                "aircraft" in parameter.opts
            ):  # what a command is about stands behind it; what it may be about, in --aircraft
                assert parameter.required, command.name
    assert len(kinds) == 6
    assert all(len(kind) == 1 for kind in kinds.values()), kinds


def test_json_hides_nothing_and_says_the_same(capsys):
    told = {"remarks": "a\u202eb\u200b\x1b[31m\x7f\U000e0041", "µ": "ß\u00a0−"}
    say_json(told)
    shown = capsys.readouterr().out
    assert json.loads(shown) == told
    assert shown.replace("\n", "").replace("\u00a0", "").isprintable()
    assert "ß" in shown

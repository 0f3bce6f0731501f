"""The public library: what `import spooldown` offers, its examples, and the notebook session in the docs."""

from __future__ import annotations

import doctest
import importlib
import os
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import analyser
import importers
import reports
import spooldown
from spooldown.logbook.book import Logbook

ROOT = Path(__file__).parents[2]
FLAGS = doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS | doctest.IGNORE_EXCEPTION_DETAIL


def modules() -> list[str]:
    names = [
        m.name
        for package in (analyser, importers, reports, spooldown)
        for m in pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
        if not m.name.endswith("__main__")
    ]
    return ["spooldown", *names]


def test_examples_in_docstrings_are_true(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    tried = 0
    for name in modules():
        outcome = doctest.testmod(importlib.import_module(name), optionflags=FLAGS)
        assert outcome.failed == 0, name
        tried += outcome.attempted
    assert tried > 30


def test_the_notebook_session_in_the_docs_is_true(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    outcome = doctest.testfile(str(ROOT / "docs" / "library.md"), module_relative=False, optionflags=FLAGS)
    assert outcome.failed == 0
    assert outcome.attempted > 15


def test_every_public_name_is_there_and_says_what_it_is() -> None:
    assert sorted(spooldown.__all__) == sorted(spooldown._HOMES)
    for name in spooldown.__all__:
        assert getattr(spooldown, name).__doc__, name
    with pytest.raises(AttributeError, match="no attribute 'fly'"):
        spooldown.fly  # noqa: B018


def test_importing_it_loads_nothing_heavy() -> None:
    code = "import sys, spooldown; print([m for m in ('numpy', 'pandas', 'pyarrow', 'jinja2') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


def test_results_are_short_in_a_shell_and_a_table_in_a_notebook() -> None:
    (flight,) = spooldown.read_log(ROOT / "sample_logs" / "tern" / "tern-2026-04-18.csv")
    result = spooldown.analyse_flight(flight)
    for shown in (result, result.fuel, result.packs, result.link, result.turbine, flight):
        assert len(repr(shown)) < 120
        assert "<table" in shown._repr_html_()
    record = spooldown.FlightRecord("a", 1, None, spooldown.FlightContext(), result)
    assert len(repr(spooldown.analyse_season([record]))) < 120
    assert len(repr(record)) < 200


def test_a_logbook_is_analysed_whole(tmp_path: Path) -> None:
    with Logbook(tmp_path / "book") as book, book.writing():
        pass
    empty = spooldown.analyse_logbook(tmp_path / "book")
    assert (empty.flights, empty.season.aircraft) == ((), ())


@pytest.mark.parametrize("name", ["reports", "analyser", "importers", "typer"])
def test_a_file_of_the_same_name_in_the_working_folder_disturbs_nothing(tmp_path: Path, name: str) -> None:
    (tmp_path / f"{name}.py").write_text("raise SystemExit('the wrong one')\n", "utf-8")
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-m", "spooldown", "--help"],
        cwd=tmp_path,
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "Usage" in done.stdout

"""Limits files: what is refused and in which words, what is kept, and what past flights look like by them."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import numpy as np
import pyarrow as pa
import pytest
from front import run, said_once
from made import register_example, source

from analyser.core.events import Level
from importers.model import FlightDraft
from importers.refusal import Refusal
from spooldown import register
from spooldown.judging.files import limits_of, own_limits, parse_limits, path_of, save, written
from spooldown.logbook.archive import back_up, restore
from spooldown.logbook.book import Logbook
from spooldown.upkeep.checking import check
from spooldown.work.results import analysed

HEAD = 'aircraft = "Heron"\n[[limits]]\nname = "a"\n'


def sagging(number: int, depth: float = 1.6) -> FlightDraft:
    """A pack at 8.2 V that sags for half a second by ``depth`` at 20 s; 10 Hz, 60 s."""
    time = np.arange(0.0, 60.0, 0.1)
    volts = 8.2 - depth * ((time >= 20.0) & (time < 20.5)) + 0.002 * np.sin(7 * time + number)
    schema = pa.schema([("time_s", pa.float64()), ("pack.rx1.voltage_v", pa.float64())])
    batch = pa.record_batch([time, volts], schema=schema)
    start = datetime(2031, 4, number, 12, tzinfo=UTC)
    return FlightDraft(schema, iter([batch]), start, 1, {"mapping": "made"}, [])


@pytest.fixture
def flown(tmp_path):
    with Logbook(tmp_path / "book") as book:
        register_example(book)
        for n in (1, 2):
            book.add([source(f"heron-{n}.csv", f"{n:064x}")], [sagging(n, 1.0 + 0.6 * (n == 2))], aircraft="Heron")
        yield book


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ('channel = "engine.egt_f"\nabove = {act = 1}', 4, "no channel 'engine.egt_f'"),
        ('figure = "tank.marginn"\nbelow = {act = 0}', 4, "expected 'tank.margin'"),
        ('event = "sagg"', 4, "expected 'sag'"),
        ('figure = "tank.margin"\nbelow = {watch = 0, act = 100}', 5, "act below watch"),
        ('figure = "pack.temperature"\nabove = {watch = 60, act = 50}', 5, "act above watch"),
        ('figure = "tank.margin"\nbelow = {act = 50}\nabove = {act = 40}', 5, "every value would pass"),
        ('figure = "pack.temperature"\nabove = {act = 140}\nunit = "°F"', 6, "expected '°C'"),
        ('figure = "pack.temperature"', 2, "without a number"),
        ('event = "sag"\nlevel = "danger"', 5, "one of fine, note, watch, act"),
        ('event = "sag"\nmatter = "burn_step"', 2, "exactly one of"),
        ('event = "sag"\nphase = "flihgt"', 5, "expected 'flight'"),
        ('event = "sag"\nfor_s = -1', 5, "zero or more"),
        ('event = "sag"\nsource = "a friend"', 5, "maker's manual"),
        ('event = "sag"\nabov = {act = 1}', 5, "expected 'above'"),
        ('event = "sag"\nabove = {act = "much"}', 5, "act = 1.5"),
        ('event = "sag"\n[[limits]]\nname = "a"\nevent = "fade"', 6, "two limits named 'a'"),
        ('event = "sag"\n[[limits]]\nname = "b"\nevent = "sag"', 5, "two limits on 'sag': 'a' and 'b'"),
        ('event = "sag', 4, "no TOML"),
    ],
)  # fmt: skip
def test_a_wrong_file_is_refused_by_line_in_one_sentence(text: str, line: int, says: str) -> None:
    with pytest.raises(Refusal) as refused:
        parse_limits(HEAD + text, "heron.toml", "Heron")
    said = str(refused.value)
    assert says in said, said
    assert refused.value.line in (line, None if "no TOML" in says else line), said
    assert said.count("\n") == 0


def test_another_aircrafts_file_is_refused() -> None:
    with pytest.raises(Refusal, match="limits of 'Heron'"):
        parse_limits(HEAD + 'event = "sag"', "x.toml", "Tern")


def test_the_starting_file_reads_back_as_it_was_written() -> None:
    from analyser.programme.starting import starting_set

    described = register.parse(register.EXAMPLE.encode(), "x").aircraft
    limits = starting_set(described)
    text = written("Heron", limits)
    assert parse_limits(text, "heron.toml", "Heron") == limits
    assert "# how deep, percent of the voltage without load" in text
    assert text.count("source = ") == len(limits)


def test_levels_on_results_come_from_the_file(flown) -> None:
    known = register.load(flown)
    before = [e.level for one in analysed(flown, known) for e in one.record.result.events() if e.kind == "sag"]
    assert before == [Level.NOTE, Level.WATCH]  # 12 % and 20 % deep
    save(
        flown, "Heron",
        HEAD + 'event = "sag"\nlevel = "fine"\nabove = {act = 10}\n'
        '[[limits]]\nname = "low"\nchannel = "pack.voltage_v"\nbelow = {watch = 7.0}\nfor_s = 0.3\nunit = "V"\n',
    )  # fmt: skip
    after = analysed(flown, known)
    sags = [e.level for one in after for e in one.record.result.events() if e.kind == "sag"]
    assert sags == [Level.ACT, Level.ACT]
    crossed = [(one.record.number, e.subject, e.level) for one in after for e in one.record.result.passed]
    assert crossed == [(2, "pack.rx1", Level.WATCH)]  # only the second fell below 7 V
    assert [one.record.result.passed for one in analysed(flown, known)] == [o.record.result.passed for o in after]
    path_of(flown, "Heron").unlink()
    again = [e.level for one in analysed(flown, known) for e in one.record.result.events() if e.kind == "sag"]
    assert again == before


def test_a_refused_file_leaves_the_old_one(flown) -> None:
    save(flown, "Heron", HEAD + 'event = "sag"\nlevel = "act"')
    with pytest.raises(Refusal):
        save(flown, "Heron", HEAD + 'event = "sagg"')
    assert [x.level for x in own_limits(flown, "Heron")] == [Level.ACT]
    assert limits_of(flown, "Heron").level_of("event", "sag", 0.0) is Level.ACT


def test_limits_are_checked_backed_up_and_restored(flown, tmp_path) -> None:
    save(flown, "Heron", HEAD + 'event = "sag"\nlevel = "act"')
    assert check(flown.folder) == []
    back_up(flown, tmp_path / "b.zip")
    restore(tmp_path / "b.zip", tmp_path / "again")
    with Logbook(tmp_path / "again") as book:
        assert own_limits(book, "Heron") == own_limits(flown, "Heron")
    path_of(flown, "Heron").write_text(HEAD + 'event = "sagg"')
    (damage,) = check(flown.folder)
    assert "sagg" in str(damage)


def test_an_emptied_file_is_told_and_an_empty_text_takes_it_out(flown) -> None:
    save(flown, "Heron", HEAD + 'event = "sag"\nlevel = "act"\n')
    path_of(flown, "Heron").write_bytes(b"")
    with pytest.raises(Refusal, match="found nothing in it"):
        own_limits(flown, "Heron")
    assert any("found nothing in it" in str(d) for d in check(flown.folder))
    save(flown, "Heron", HEAD + 'event = "sag"\nlevel = "act"\n')
    save(flown, "Heron", "\n")
    assert (own_limits(flown, "Heron"), check(flown.folder)) == ((), [])


def test_one_aircrafts_unreadable_limits_cost_what_they_judge_alone(flown) -> None:
    flown.add([source("gull.csv", f"{9:064x}")], [sagging(9)], aircraft="Gull")
    book = ("--logbook", flown.folder)
    run("marks", "set", "real", "--aircraft", "Heron", "--kind", "sag", *book)
    path = path_of(flown, "Heron")
    for spoilt in (b"\xff\xfe", b"[[limits]]\nname = 3\n"):
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(spoilt)
        for words in (("flights",), ("export", "events"), ("marks", "list"), ("service", "list"), ("pages",)):
            done = run(*words, *book)
            assert (done.returncode, done.stderr.count("limits/heron.toml"), done.stderr.count("\n")) == (
                7,
                1,
                1,
            )
            assert "No such event any more" not in done.stdout
        assert "limits/heron.toml" in (flown.folder / "pages" / "index.html").read_text("utf-8")
        assert (flown.folder / "pages" / "flights" / "gull-2031-04-09-a.html").is_file()
        for words in (("show", "heron 1"), ("before", "Heron"), ("limits", "show", "Heron")):
            assert "limits/heron.toml" in said_once(run(*words, *book))
        assert run("limits", "show", "Gull", *book).returncode == 0
    path.unlink()
    assert run("flights", *book).returncode == 0


def test_the_command_starts_tries_and_keeps(flown, tmp_path) -> None:
    book = ("--logbook", flown.folder)
    flown.close()
    started = run("limits", "start", "heron", *book)
    assert started.returncode == 0
    assert "each says where it comes from" in started.stdout
    assert "has limits already" in said_once(run("limits", "start", "Heron", *book))
    shown = json.loads(run("limits", "show", "Heron", "--json", *book).stdout)
    assert next(x for x in shown if x["name"] == "sag")["above"] == {"watch": 15.0}
    file = tmp_path / "new.toml"
    text = (flown.folder / "limits" / next(iter((flown.folder / "limits").iterdir())).name).read_text("utf-8")
    file.write_text(text.replace("above = {watch = 15}", "above = {watch = 10}"), "utf-8")
    tried = json.loads(run("limits", "try", "Heron", file, "--json", *book).stdout)
    assert [(c["kind"], c["before"], c["after"]) for c in tried["changes"]] == [("sag", "note", "watch")]
    assert "note → watch" in run("limits", "try", "Heron", file, *book).stdout.casefold()
    assert run("limits", "edit", "Heron", file, "--yes", *book).returncode == 0
    assert json.loads(run("limits", "try", "Heron", file, "--json", *book).stdout)["changes"] == []
    file.write_text(text.replace('"sag"', '"sagg"'), "utf-8")
    assert "sagg" in said_once(run("limits", "edit", "Heron", file, "--yes", *book))
    assert "aircraft" in said_once(run("limits", "show", "Herron", *book))
    assert "pack.state_after" in run("limits", "known", *book).stdout
    german = run("limits", "show", "Heron", "--language", "de", *book)
    assert "Grenze" in german.stdout

"""A season through the programme: step found, snag, remedies judged; marks that last; nothing lost on bad input."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pyarrow as pa
import pytest
from front import run, said_once
from made import register_example, source
from msgspec.structs import replace

from analyser.core.events import Level
from analyser.programme.marks import Mark, Verdict, find_marked
from analyser.programme.snags import Remedy, Snag
from importers.model import FlightDraft
from spooldown import register
from spooldown.judging.marks import all_marks, keep, validated
from spooldown.logbook.archive import back_up, restore
from spooldown.logbook.book import Logbook
from spooldown.problems import NotFoundProblem, UsageProblem
from spooldown.processes.workers import Done
from spooldown.programme import snags
from spooldown.programme.flights import follow
from spooldown.programme.review import offers_of, states_of
from spooldown.programme.validation import Wanted, choose, forget, mark, rates_by_limit
from spooldown.upkeep.checking import check
from spooldown.work.overview import overview
from spooldown.work.results import analysed

DAY = date(2024, 3, 1)


def flight(number: int, start_egt: float, *, sag_at: float = 20.0) -> FlightDraft:
    """A start whose peak is planted, half a minute at idle, and one sag of the receiver pack; 5 Hz, 90 s."""
    time = np.arange(0.0, 90.0, 0.2)
    speed = np.interp(time, [0, 5, 25, 38, 42, 50, 54, 66, 76, 90], [0, 0, 4e4, 4e4, 1e5, 1e5, 4e4, 4e4, 0, 0])
    egt = np.interp(time, [0, 5, 15, 30, 60, 90], [20, 20, start_egt, 480, 480, 90])
    volts = 8.2 - 1.7 * ((time >= sag_at) & (time < sag_at + 0.6)) + 0.002 * np.sin(7 * time + number)
    names = ("time_s", "engine.main.speed_rpm", "engine.main.egt_c", "pack.rx1.voltage_v")
    schema = pa.schema([(n, pa.float64()) for n in names])
    start = datetime(DAY.year, DAY.month, DAY.day, 12, tzinfo=UTC) + timedelta(days=number)
    return FlightDraft(schema, iter([pa.record_batch([time, speed, egt, volts], schema=schema)]), start, 1, {}, [])


STEP, USELESS, MENDED, LAST = 17, 33, 49, 64
"""Planted: from flight 17 starts are 60 °C hotter; what was done before 33 changed nothing, before 49 all of it."""
TRUE_STEP = 60.0


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    """Sixty-four flights; another generator's noise than the library's own."""
    rng = np.random.RandomState(2024)
    folder = tmp_path_factory.mktemp("programme") / "book"
    with Logbook(folder) as book:
        register_example(book)
        numbers = range(1, LAST + 1)
        peaks = {n: 640.0 + rng.normal(0.0, 6.0) + TRUE_STEP * (STEP <= n < MENDED) for n in numbers}
        drafts = [replace(flight(n, peaks[n]), part=n) for n in numbers if n != 5]
        book.add([source("all.csv", f"{99:064x}")], drafts, aircraft="Heron")
        book.add([source("5.csv", f"{5:064x}")], [flight(5, peaks[5])], aircraft="Heron")
        # In this process: starting workers takes longer than these flights.
        overview(book, register.load(book), run=lambda work, items: (Done(one, work(one), None) for one in items))
    return folder


@pytest.fixture
def book(season, tmp_path):
    """The season in a copy of its own."""
    import shutil

    shutil.copytree(season, tmp_path / "copy")
    with Logbook(tmp_path / "copy") as opened:
        yield opened


def day_before(number: int) -> date:
    return DAY + timedelta(days=number - 1)


def test_a_planted_season_from_step_to_worked(book) -> None:
    followed = follow(book, register.load(book), "Heron")
    offers = offers_of(book, followed)
    steps = {s.number: s for s in offers if s.key == ("engine.start_egt", "engine.main")}
    assert set(steps) == {STEP, MENDED}, [(s.key, s.number) for s in offers]
    step = steps[STEP]
    assert step.first <= STEP <= step.last
    assert step.size.low <= TRUE_STEP <= step.size.high

    snag = snags.add(book, snags.from_step(step, "Heron", DAY))
    assert (snag.name, snag.part, snag.measure, snag.day) == ("S1", "engine.main", "engine.start_egt", step.day)
    snags.add_remedy(book, snag.number, Remedy(day_before(USELESS) + timedelta(1), "start ramp softened"))
    snags.add_remedy(book, snag.number, Remedy(day_before(MENDED) + timedelta(1), "injector cleaned"))
    (state,) = states_of(book, snags.all_snags(book), [followed])
    useless, mended = state.fared
    assert useless.comparison.verdict == "did_not"
    assert mended.comparison.verdict == "worked"
    assert mended.comparison.change.low <= -TRUE_STEP <= mended.comparison.change.high
    assert (mended.comparison.before, mended.comparison.after) == (MENDED - USELESS, LAST - MENDED + 1)
    # Neither the step that is a snag now nor the one a remedy explains is offered again.
    assert [s for s in offers_of(book, followed) if s.key == ("engine.start_egt", "engine.main")] == []


def test_right_after_a_remedy_nobody_can_tell_yet(book) -> None:
    known = register.load(book)
    snag = snags.add(book, Snag(0, "Heron", "engine.main", "", "hot starts", DAY, measure="engine.start_egt", worth=30))
    snags.add_remedy(book, snag.number, Remedy(day_before(LAST) + timedelta(1), "nothing much"))
    (state,) = states_of(book, [snags.find_snag(book, "S1")], [follow(book, known, "Heron")])
    assert state.fared[0].comparison.verdict == "cant_tell"
    assert state.fared[0].comparison.more == 2
    for stretch in (follow(book, known, "Heron", 5),):
        assert len(stretch.flights) == 5
        assert len(stretch.entries) == LAST


def test_steps_put_aside_stay_aside(book) -> None:
    followed = follow(book, register.load(book), "Heron")
    first = offers_of(book, followed)[0]
    snags.put_aside(book, first)
    assert first not in offers_of(book, followed)


def test_marks_survive_another_analysis_and_another_import(book) -> None:
    known = register.load(book)
    one = analysed(book, known)[4]
    (sag,) = [e for e in one.record.result.events() if e.kind == "sag"]
    mark(book, [(one.record, sag)], Verdict.NUISANCE, "servo test on the ground", "2024-05-01")
    again = analysed(book, known)[4].record
    (marked,) = [e for e in again.result.events() if e.kind == "sag"]
    assert (marked.mark, marked.level) == ("nuisance", Level.FINE)
    assert rates_by_limit(book, "Heron") == {"sag": (1, 1)}
    # Imported again under another name, and with its event a little later: still the same event.
    flight_id = one.flight.flight_id
    book.delete([flight_id])
    assert [m.reason for m in validated(book, [a.record for a in analysed(book, known)]).astray] == [
        "servo test on the ground"
    ]
    book.add([source("x.csv", f"{5:064x}")], [flight(5, 640.0, sag_at=21.4)], aircraft="Heron")
    records = [a.record for a in analysed(book, known)]
    said = validated(book, records)
    assert said.astray == ()
    ((kept, _, event),) = said.found
    assert (kept.verdict, event.mark) == (Verdict.NUISANCE, "nuisance")
    forget(book, [(next(r for r in records if event in tuple(r.result.events())), event)])
    assert all_marks(book) == {}


def test_a_second_verdict_takes_the_place_of_the_first(book) -> None:
    records = [a.record for a in analysed(book, register.load(book))]
    chosen = [(f, e) for f, _, e in choose(records, Wanted(kind="sag", level=Level.NOTE))]
    assert len(chosen) == LAST
    mark(book, chosen, Verdict.NUISANCE, "", "2024-05-01")
    mark(book, chosen[:10], Verdict.SENSOR, "loose plug", "2024-05-02")
    mark(book, chosen[10:20], Verdict.REAL, "", "2024-05-02")
    assert len(all_marks(book)) == LAST
    assert rates_by_limit(book, "Heron") == {"sag": (LAST - 10, LAST)}


def test_marks_are_paired_one_to_one() -> None:
    from analyser.core.events import Event

    def event(at: float, kind: str = "sag") -> Event:
        return Event(kind, "pack.rx1", at, at + 0.5, Level.NOTE, "x")

    def said(at: float) -> Mark:
        return Mark("f", ("a",), 1, "sag", "pack.rx1", "", at, at + 0.5, Verdict.REAL)

    assert find_marked([said(10.0), said(12.0)], [event(9.0), event(12.1), event(30.0)]) == {0: 0, 1: 1}
    assert find_marked([said(10.0)], [event(10.0, "fade")]) == {}
    assert find_marked([said(10.0)], [event(14.0)]) == {}
    assert find_marked([said(10.0), said(10.1)], [event(10.0)]) == {0: 0}


def test_bad_input_is_one_sentence_and_nothing_is_lost(book) -> None:
    kept = snags.add(book, Snag(0, "Heron", "engine.main", "", "hot starts", date(2024, 5, 1)))
    with pytest.raises(UsageProblem, match="a remedy of 2024-04-30 cannot be against S1, which was seen on 2024-05-01"):
        snags.add_remedy(book, 1, Remedy(date(2024, 4, 30), "x"))
    with pytest.raises(UsageProblem, match=r"did you mean 'engine.start_egt'"):
        snags.add(book, Snag(0, "Heron", "engine.main", "", "x", DAY, measure="engine.start_egtt"))
    with pytest.raises(UsageProblem, match=r"is no figure of engine.main"):
        snags.add(book, Snag(0, "Heron", "engine.main", "", "x", DAY, measure="tank.margin"))
    with pytest.raises(UsageProblem, match="what is wrong"):
        snags.add(book, Snag(0, "Heron", "", "", "  ", DAY))
    with pytest.raises(NotFoundProblem, match="no snag 'S9'; open are S1"):
        snags.find_snag(book, "S9")
    with pytest.raises(NotFoundProblem, match="has no remedy 1; it has 0"):
        snags.drop_remedy(book, 1, 1)
    assert snags.all_snags(book) == [kept]


def test_snags_and_marks_are_backed_up_restored_and_mended(book, tmp_path) -> None:
    kept = snags.add(book, Snag(0, "Heron", "", "", "hot starts", DAY))
    one = analysed(book, register.load(book))[0].record
    mark(book, [(one, next(iter(one.result.events())))], Verdict.REAL, "", "")
    marks = all_marks(book)
    back_up(book, tmp_path / "b.zip")
    restore(tmp_path / "b.zip", tmp_path / "again")
    with Logbook(tmp_path / "again") as again:
        assert snags.all_snags(again) == [kept]
        assert all_marks(again) == marks
    # The catalogue lost: what was entered by hand comes back from beside it.
    book.close()
    (book.folder / "catalogue.sqlite").unlink()
    check(book.folder, repair=True)
    with Logbook(book.folder) as again:
        assert snags.all_snags(again) == [kept]
        assert all_marks(again) == marks


def test_two_at_once_get_two_numbers(book) -> None:
    with Logbook(book.folder) as other:
        first = snags.add(book, Snag(0, "Heron", "", "", "one", DAY))
        second = snags.add(other, Snag(0, "Heron", "", "", "two", DAY))
    assert (first.number, second.number) == (1, 2)
    snags.close(book, 1, DAY + timedelta(9), "gone")
    assert [s.open for s in snags.all_snags(book)] == [False, True]
    assert snags.reopen(book, 1).story[0].text == "gone"


def test_a_mark_of_the_same_event_is_kept_once(book) -> None:
    marks = [
        Mark("f", ("a",), 1, "sag", "pack.rx1", "", at, at + 0.5, Verdict.REAL, reason=str(at)) for at in (10.0, 10.4)
    ]
    keep(book, marks[:1])
    keep(book, marks[1:])
    assert [m.reason for m in all_marks(book).values()] == ["10.4"]


def test_the_commands(book) -> None:
    place = ("--logbook", book.folder)
    book.close()
    offers = run("snags", "offers", "heron", *place)
    assert offers.returncode == 0, offers.stderr
    assert f"with flight {STEP}" in offers.stdout
    found = json.loads(run("snags", "offers", "Heron", "--json", *place).stdout)
    number = next(n for n, s in enumerate(found, 1) if s["number"] == STEP and s["key"][0] == "engine.start_egt")
    assert "Kept S1" in run("snags", "add", "Heron", "--step", number, *place).stdout
    assert run("remedies", "add", "S1", "ramp", "--day", day_before(USELESS + 1), *place).returncode == 0
    assert run("remedies", "add", "s1", "injector", "--first-flight", f"Heron {MENDED}", *place).returncode == 0
    fared = json.loads(run("snags", "show", "1", "--json", *place).stdout)["fared"]
    assert [f["verdict"] for f in fared] == ["did_not", "worked"]
    assert "It worked" in run("snags", "show", "S1", *place).stdout
    assert "Es hat gewirkt" in run("snags", "show", "S1", "--language", "de", *place).stdout
    assert "injector: worked" in run("snags", "list", *place).stdout
    assert "cannot be against S1" in said_once(run("remedies", "add", "S1", "x", "--day", "2024-03-02", *place))
    assert "wants a day" in said_once(run("remedies", "add", "S1", "x", "--day", "soon", *place))
    assert run("snags", "close", "S1", "done", *place).returncode == 0
    events = json.loads(run("marks", "list", "--flight", "Heron 3", "--json", *place).stdout)["events"]
    sag = next(e for e in events if e["kind"] == "sag")
    marked = run("marks", "set", "sensor", sag["number"], "--flight", "Heron 3", "--reason", "loose", *place)
    assert "1\u00a0event" in marked.stdout
    assert f"Marked {LAST}" in run("marks", "set", "nuisance", "--kind", "sag", *place).stdout.replace("\u00a0", " ")
    rates = json.loads(run("limits", "show", "Heron", "--json", *place).stdout)
    assert next(x for x in rates if x["name"] == "sag")["nuisance"] == LAST
    assert "no verdict" in said_once(run("marks", "set", "maybe", "1", "--flight", "Heron 3", *place))
    assert "no event 99" in said_once(run("marks", "set", "real", "99", "--flight", "Heron 3", *place))
    from_event = run("snags", "add", "Heron", "--flight", "Heron 4", "--event", "1", *place)
    assert "Kept S2" in from_event.stdout


def test_service_year_and_before_from_the_command_line(book) -> None:
    place = ("--logbook", book.folder)
    book.close()
    listed = run("service", "list", "--aircraft", "heron", *place)
    assert listed.returncode == 0, listed.stderr
    assert "Heron main" in listed.stdout
    added = ("service", "add", "main switch", "--kind", "switch", "--aircraft", "Heron", "--months", "24")
    assert "2\u00a0intervals" in run(*added, "--flights", "100", "--since", "2024-01-01", *place).stdout
    states = json.loads(run("service", "list", "--json", *place).stdout)
    switch = next(s for s in states if s["component"]["name"] == "main switch")
    assert switch["total"]["flights"] == LAST
    assert run("service", "done", "Heron main", "bearings", "--day", "2024-04-01", *place).returncode == 0
    again = json.loads(run("service", "list", "--json", *place).stdout)
    engine = next(s for s in again if s["component"]["name"] == "Heron main")
    assert 0 < engine["since_service"]["hours"] < engine["total"]["hours"]
    assert "did you mean 'main switch'" in said_once(run("service", "done", "main swich", *place))
    assert "above zero" in said_once(run("service", "add", "x", "--hours", "-1", *place))
    year = run("year", "heron", "2024", *place)
    assert year.returncode == 0, year.stderr
    assert f"{LAST}\u00a0flights on {LAST}\u00a0days" in year.stdout
    assert "Heron im Jahr 2024" in run("year", "Heron", "--language", "de", *place).stdout
    before = run("before", "Heron", *place)
    assert before.returncode == 0, before.stderr
    assert "Before the next flight of Heron" in before.stdout
    assert "usually" in before.stdout
    assert "Service" in before.stdout
    assert "aircraft" in said_once(run("before", "Herronn", *place))


def test_pages_of_the_programme(book, tmp_path) -> None:
    from reports.addresses import slug
    from reports.pages.programme.lines import programme_path
    from reports.site import build_site
    from spooldown.programme.review import results_of
    from spooldown.site import checks_of, site_of

    known = register.load(book)
    snag = snags.add(book, Snag(0, "Heron", "engine.main", "", "hot <b>starts</b>", DAY, measure="engine.start_egt"))
    snags.add_remedy(book, snag.number, Remedy(day_before(MENDED) + timedelta(1), "injector cleaned"))
    closed = snags.add(book, Snag(0, "Heron", "", "", "loose hatch", DAY))
    snags.close(book, closed.number, DAY + timedelta(2), "screw found")
    whole = overview(book, known)
    first = results_of(book, known, whole, whole.season(checks_of(book)), DAY)["Heron"]
    again = results_of(book, known, whole, whole.season(checks_of(book)), DAY)["Heron"]
    assert again == first
    built = build_site(site_of(book, known), tmp_path / "pages")
    name = slug("Heron")
    places = (programme_path("Heron"), f"before/{name}.html", f"year/{name}-2024.html")
    programme, before, year = ((built.start.parent / p).read_text("utf-8") for p in places)
    assert "hot &lt;b&gt;starts&lt;/b&gt;" in programme
    assert "injector cleaned" in programme
    assert "Worked." in programme
    assert "screw found" in programme
    assert "hot &lt;b&gt;starts" in before
    assert "loose hatch" not in before
    assert "1\u00a0closed" in programme
    assert "2\u00a0snags opened, 1 closed, 1 open" in year
    start = built.start.read_text("utf-8")
    assert "hot &lt;b&gt;starts" in start
    assert programme_path("Heron") in start
    # Nothing changed: nothing is written again.
    assert build_site(site_of(book, known), tmp_path / "pages").written == 0


def test_the_kept_table_is_read_by_pandas_and_duckdb(book) -> None:
    duckdb = pytest.importorskip("duckdb")
    pandas = pytest.importorskip("pandas")
    overview(book, register.load(book))
    (file,) = (book.folder / "columns").glob("figures-*.parquet")
    frame = pandas.read_parquet(file)
    assert list(frame.columns) == [
        "flight", "aircraft", "utc_start", "measure", "part", "thing", "value", "low", "high", "unit", "method",
        "doubtful",
    ]  # fmt: skip
    (rows,) = duckdb.sql(
        f"SELECT count(*), count(value) FROM read_parquet('{file}') WHERE measure = 'engine.start_egt'"
    ).fetchall()
    assert rows == (LAST, LAST)


def test_a_record_that_does_not_read_is_told_and_stops_nothing(book) -> None:
    kept = snags.add(book, Snag(0, "Heron", "", "", "hot starts", DAY))
    book.change_records("snag", lambda _: {"000002": '{"number": "nonsense"}'})
    assert snags.all_snags(book) == [kept]
    (damage,) = [d for d in check(book.folder) if "snag" in str(d)]
    assert "000002" in str(damage)

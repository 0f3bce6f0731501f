"""Each flight is analysed once: again only when something it depends on has changed, or its result no longer reads."""

import subprocess
import sys

import pytest
from made import draft, source

from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.logbook.codec import to_bytes
from spooldown.logbook.note import FlightNote
from spooldown.processes import workers
from spooldown.work import analysing, kept, prepared, results


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "book") as opened:
        opened.add([source()], [draft(1), draft(2)], aircraft="Heron")
        yield opened


@pytest.fixture
def analyses(book, monkeypatch):
    """Return a call that says which flights it analysed afresh, and remembers what came out."""
    fresh = []
    whole = results.spread

    def counted(function, work):
        for done in whole(function, work):
            fresh.append(done.item.flight.flight_id)
            yield done

    monkeypatch.setattr(results, "spread", counted)

    def call():
        fresh.clear()
        call.out = results.analysed(book, register.load(book))
        return sorted(fresh)

    return call


BOTH = ["heron-2031-04-05-a", "heron-2031-04-05-b"]


def test_once_and_the_same_out_of_the_cache(analyses):
    assert analyses() == BOTH
    first = [to_bytes(a.record.result) for a in analyses.out]
    assert analyses() == []
    assert [to_bytes(a.record.result) for a in analyses.out] == first
    assert [a.record.number for a in analyses.out] == [1, 2]


def test_a_note_concerns_its_own_flight(book, analyses):
    analyses()
    book.set_notes({BOTH[0]: FlightNote(air_temperature_c=18)})
    assert analyses() == BOTH[:1]
    assert analyses.out[0].record.context.air_temperature_c == 18
    assert analyses() == []


def test_a_pack_registered_concerns_the_flights_that_take_it(book, analyses):
    analyses()
    data = register.EXAMPLE.encode()
    register.add(book, data, "h.toml")
    assert analyses() == BOTH


def test_another_state_of_the_analyser(analyses, monkeypatch):
    analyses()
    monkeypatch.setattr(prepared, "analyser_digest", lambda: b"another")
    assert analyses() == BOTH
    assert analyses() == []


def test_the_digest_sees_every_source_and_its_name(tmp_path, monkeypatch):
    digest = prepared.analyser_digest.__wrapped__
    package = tmp_path / "analyser"
    (package / "deep").mkdir(parents=True)
    (package / "__init__.py").write_text("")
    (package / "deep" / "fuel.py").write_text("DENSITY = 800")
    monkeypatch.setattr(prepared.analyser, "__file__", str(package / "__init__.py"))
    seen = [digest(), digest()]
    assert seen[0] == seen[1]
    (package / "deep" / "fuel.py").write_text("DENSITY = 801")
    seen.append(digest())
    (package / "deep" / "fuel.py").rename(package / "fuel.py")
    seen.append(digest())
    monkeypatch.setattr(prepared, "__version__", "another")
    seen.append(digest())
    assert len(set(seen)) == 4


@pytest.mark.parametrize(
    "spoil", [lambda d: b"", lambda d: d[:-9], lambda d: b"x" * len(d), lambda d: d[: len(d) // 2]]
)
def test_a_spoilt_result_is_made_again(book, analyses, spoil):
    analyses()
    before = [to_bytes(a.record.result) for a in analyses.out]
    path = book.cache_folder / f"{BOTH[1]}{kept.ENDING}"
    path.write_bytes(spoil(path.read_bytes()))
    assert analyses() == BOTH[1:]
    assert [to_bytes(a.record.result) for a in analyses.out] == before
    assert analyses() == []


def test_a_result_of_another_shape_is_made_again(book, analyses):
    import pyarrow as pa

    analyses()
    path = book.cache_folder / f"{BOTH[0]}{kept.ENDING}"
    with pa.output_stream(str(path), compression="zstd") as stream:
        stream.write(analyses.out[0].key.encode() + b'\n{"phases": 3}')
    assert analyses() == BOTH[:1]


def test_only_what_is_wanted(book, analyses):
    (one,) = results.analysed(book, register.load(book), only=BOTH[1:])
    assert (one.flight.flight_id, one.record.number) == (BOTH[1], 2)
    assert analyses() == BOTH[:1]


def test_without_a_place_for_the_cache_it_still_works(book, analyses):
    book.cache_folder.write_bytes(b"in the way")
    assert analyses() == BOTH
    assert analyses() == BOTH


def test_a_result_that_cannot_be_kept_leaves_nothing_half_written(book, analyses, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(kept.os, "replace", full)
    assert analyses() == BOTH
    assert list(book.cache_folder.iterdir()) == []


def test_many_at_once_come_out_as_one_by_one(book, analyses):
    book.add([source("more.csv", "33")], [draft(n, rows=300) for n in (1, 2, 3, 4)], aircraft="Heron")
    assert len(analyses()) == 6 >= workers.POOL_FROM
    together = {a.flight.flight_id: to_bytes(a.record.result) for a in analyses.out}
    for one in analyses.out:
        path = book.telemetry_path(one.flight.flight_id)
        worked = analysing.analyse(analysing.Work(one.flight, path, one.record.context))
        assert worked is not None
        assert worked.result == together[one.flight.flight_id]


def test_the_season_is_worked_out_once_for_the_same_flights(book, analyses, monkeypatch):
    counted = []
    whole = results.analyse_season
    monkeypatch.setattr(results, "analyse_season", lambda *a: counted.append(1) or whole(*a))

    def season():
        analyses()
        counted.clear()
        out = results.season(book, analyses.out, register.load(book), {})
        return len(counted), to_bytes(out)

    made, first = season()
    assert made == 1
    assert season() == (0, first)
    assert first == to_bytes(whole([a.record for a in analyses.out], []))
    book.set_notes({BOTH[0]: FlightNote(air_temperature_c=18)})
    assert season()[0] == 1
    assert season()[0] == 0
    book.remove(BOTH[1:])
    assert season()[0] == 1
    data = register.EXAMPLE.encode()
    register.add(book, data, "h.toml")
    assert season()[0] == 1
    (book.cache_folder / kept.SEASON / f"season{kept.ENDING}").write_bytes(b"x")
    assert season()[0] == 1
    assert season()[0] == 0


def test_workers_start_deaf_to_ctrl_c():
    words = [sys.executable, "-c", "import signal; print(signal.getsignal(signal.SIGINT) == signal.SIG_IGN)"]
    before = subprocess.check_output(words).split()  # deaf already, where a shell put the tests in the background
    with workers._ignoring_interrupts():
        assert subprocess.check_output(words).split() == [b"True"]
    assert subprocess.check_output(words).split() == before

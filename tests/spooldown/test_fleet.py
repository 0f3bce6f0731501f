"""A cluster of two workers of which one is killed: the same result, byte for byte, as on one machine."""

import os
import shutil
import signal
import tempfile

import psutil
import pytest
from front import everything, run, said_once
from made import draft, register_example, source

from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from spooldown.scratch import owned
from spooldown.work.overview import overview

pytest.importorskip("distributed", reason="needs Dask: pip install spooldown[fleet]")
FLIGHT = "heron-2031-04-05-a"


@pytest.fixture
def folder(tmp_path):
    with Logbook(tmp_path / "book") as book:
        register_example(book)
        book.add([source()], [draft(n, rows=150 + n) for n in (1, 2, 3)], aircraft="Heron")
        book.add([source("b.csv", "22")], [draft(n, rows=150 + n) for n in (1, 2, 3)], aircraft="Heron")
        book.note({FLIGHT: FlightNote(remarks="calm")})
    return tmp_path / "book"


def test_a_killed_worker_costs_time_and_nothing_else(folder, tmp_path):
    from spooldown.fleet.cluster import connected

    other = tmp_path / "other"
    shutil.copytree(folder, other)
    with Logbook(folder) as book:
        overview(book, register.load(book)).season()
    done = []
    with connected(workers=2) as cluster, Logbook(other) as book:
        (victim, _) = cluster.client.run(os.getpid).values()
        scratch = cluster.client.run(lambda dask_worker: dask_worker.local_directory)
        assert all(place.startswith(f"{tempfile.gettempdir()}/{owned()}") for place in scratch.values())

        def progress(flight_id, count, whole):
            if not done:
                os.kill(victim, signal.SIGKILL)
            done.append(flight_id)

        overview(book, register.load(book), progress=progress, run=cluster.spread).season()
    assert len(done) == 6
    assert everything(other / "cache") == everything(folder / "cache")
    assert everything(other / "columns") == everything(folder / "columns")
    assert not psutil.pid_exists(victim)


def test_a_fleet_builds_the_pages_that_one_machine_builds_and_names_a_damaged_flight(folder, tmp_path, capfd):
    cut = sorted((folder / "flights").glob("*.parquet"))[-1]
    cut.write_bytes(cut.read_bytes()[:900])
    other = tmp_path / "other"
    shutil.copytree(folder, other)
    alone = run("pages", "--logbook", folder)
    together = run("fleet", "build", "--workers", "2", "--logbook", other)
    assert (alone.returncode, together.returncode) == (7, 7), together.stderr
    assert together.stdout.splitlines()[0] == alone.stdout.splitlines()[0]
    assert together.stderr == alone.stderr
    assert cut.stem in said_once(together)
    assert "Traceback" not in capfd.readouterr().err  # the workers' own
    left_out = ("index.html", ".built.json", ".pages.txt")  # they say when they were made, or hold such a digest
    pages = [
        {name: data for name, data in everything(place / "pages").items() if name not in left_out}
        for place in (folder, other)
    ]
    assert pages[0] == pages[1]
    assert f"flights/{FLIGHT}.html" in pages[0]


def test_no_scheduler_is_one_sentence(folder, monkeypatch):
    from spooldown.fleet import cluster

    monkeypatch.setattr(cluster, "WAIT_S", 0.5)
    done = run("fleet", "build", "--scheduler", "tcp://127.0.0.1:9", "--logbook", folder)
    assert "no scheduler answers at tcp://127.0.0.1:9" in said_once(done)
    assert done.returncode == 6


@pytest.mark.parametrize(("where", "stops"), [("start", True), ("work", True), ("end", False)])
def test_processes_that_are_slow_to_end_do_not_spoil_what_they_made(monkeypatch, where, stops):
    import distributed

    from spooldown.fleet.cluster import connected

    class Slow:
        def __init__(self, *args, **named):
            if where == "start":
                raise TimeoutError

        def __enter__(self):
            return self

        def __exit__(self, *error):
            if where == "end":
                raise TimeoutError

    monkeypatch.setattr(distributed, "LocalCluster", Slow)
    monkeypatch.setattr(distributed, "Client", Slow if where == "end" else lambda *a, **n: Slow())

    def build():
        with connected() as cluster:
            if where == "work":
                raise TimeoutError
            return cluster

    if stops:
        with pytest.raises(TimeoutError):
            build()
    else:
        assert build().client is not None

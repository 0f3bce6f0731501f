"""Logbooks on object storage, and a cluster of two workers of which one is killed: the same result, byte for byte."""

import os
import shutil
import signal

import psutil
import pytest
from front import everything, run, said_once
from made import draft, register_example, source

from spooldown import register
from spooldown.fleet.storage import StoredLogbook, address_of
from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from spooldown.problems import LogbookProblem
from spooldown.work import results

moto_server = pytest.importorskip("moto.server", reason="needs moto")
FLIGHT = "heron-2031-04-05-a"


@pytest.fixture
def folder(tmp_path):
    with Logbook(tmp_path / "book") as book:
        register_example(book)
        book.add([source()], [draft(n, rows=150 + n) for n in (1, 2, 3)], aircraft="Heron")
        book.note({FLIGHT: FlightNote(remarks="calm")})
    return tmp_path / "book"


@pytest.fixture
def storage(folder, tmp_path, monkeypatch):
    """An S3-compatible server (moto) that holds the logbook, and its address."""
    import boto3

    for name, value in {
        "AWS_ACCESS_KEY_ID": "test", "AWS_SECRET_ACCESS_KEY": "test", "AWS_DEFAULT_REGION": "us-east-1",
        "AWS_EC2_METADATA_DISABLED": "true", "HOME": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path / "copies"),
    }.items():  # fmt: skip
        monkeypatch.setenv(name, value)
    server = moto_server.ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    monkeypatch.setenv("AWS_ENDPOINT_URL", f"http://{host}:{port}")
    client = boto3.client("s3", endpoint_url=f"http://{host}:{port}")
    client.create_bucket(Bucket="club")
    for name, data in everything(folder).items():
        client.put_object(Bucket="club", Key=f"deep/book/{name}", Body=data)
    yield client, "s3://club/deep/book"
    server.stop()


@pytest.mark.parametrize(
    ("place", "address"),
    [
        ("s3:/club/book", "s3://club/book"),
        ("s3://club/book", "s3://club/book"),
        ("file:/a/b", "file:///a/b"),
        ("book", ""),
    ],
)
def test_an_address_is_known_by_its_scheme(place, address):
    assert address_of(place) == address


def test_a_logbook_on_object_storage_is_read_as_one_in_a_folder(storage, folder, tmp_path):
    client, address = storage
    for words in (
        ["flights", "--json"],
        ["export", "figures"],
        ["export", "telemetry", "--flight", FLIGHT],
        ["aircraft"],
    ):
        here, there = run(*words, "--logbook", folder), run(*words, "--logbook", address)
        assert (there.returncode, there.raw) == (0, here.raw), there.stderr
    assert run("pages", "--logbook", address, "--out", tmp_path / "pages").returncode == 0
    assert (tmp_path / "pages" / "flights" / f"{FLIGHT}.html").is_file()
    assert "--out" in said_once(run("pages", "--logbook", address))
    assert "read only" in said_once(run("note", FLIGHT, "--remarks", "x", "--logbook", address))
    assert "no logbook" in said_once(run("flights", "--logbook", "s3://club/elsewhere"))
    assert "no logbook" in said_once(run("flights", "--logbook", "s3://nobodys/book"))
    # A change there is seen; damage there is told.
    with Logbook(folder) as book:
        book.note({FLIGHT: FlightNote(remarks="windy")})
    client.put_object(Bucket="club", Key="deep/book/catalogue.sqlite", Body=(folder / "catalogue.sqlite").read_bytes())
    client.put_object(Bucket="club", Key=f"deep/book/flights/{FLIGHT}.parquet", Body=b"x")
    with StoredLogbook(address) as book:
        assert book.notes()[FLIGHT].remarks == "windy"
        with pytest.raises(LogbookProblem, match="is damaged"):
            book.telemetry(FLIGHT)


def test_a_killed_worker_costs_time_and_nothing_else(folder, tmp_path):
    pytest.importorskip("distributed", reason="needs Dask")
    from spooldown.fleet.cluster import connected

    with Logbook(folder) as book:
        book.add([source("b.csv", "22")], [draft(n, rows=150 + n) for n in (1, 2, 3)], aircraft="Heron")
    other = tmp_path / "other"
    shutil.copytree(folder, other)
    with Logbook(folder) as book:
        results.analysed(book, register.load(book))
    done = []
    with connected(workers=2) as cluster, Logbook(other) as book:
        (victim, _) = cluster.client.run(os.getpid).values()

        def progress(flight_id, count, whole):
            if not done:
                os.kill(victim, signal.SIGKILL)
            done.append(flight_id)

        results.analysed(book, register.load(book), progress=progress, run=cluster.spread)
    assert len(done) == 6
    assert everything(other / "cache") == everything(folder / "cache")
    assert not psutil.pid_exists(victim)


def test_no_scheduler_is_one_sentence(folder, monkeypatch):
    pytest.importorskip("distributed", reason="needs Dask")
    from spooldown.fleet import cluster

    monkeypatch.setattr(cluster, "WAIT_S", 0.5)
    done = run("fleet", "build", "--scheduler", "tcp://127.0.0.1:9", "--logbook", folder)
    assert "no scheduler answers at tcp://127.0.0.1:9" in said_once(done)
    assert done.returncode == 6

"""Logbooks on object storage read as those in a folder: by an S3-compatible server (moto), and by a file's address.

The server wants an older date library than the project, so it runs from an environment of its own:
``sh tools/object_storage.sh`` makes it. Without it, addresses of files stand for those of a storage.
"""

import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
import warnings
from pathlib import Path

import pyarrow.fs as pafs
import pytest
from front import everything, run, said_once
from made import draft, register_example, source

from spooldown.addresses import address_of
from spooldown.fleet.storage import StoredLogbook
from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from spooldown.problems import LogbookProblem

SERVER = Path(sys.prefix) / "object-storage" / ("Scripts" if os.name == "nt" else "bin") / "moto_server"
FLIGHT = "heron-2031-04-05-a"


@pytest.fixture
def folder(tmp_path):
    with Logbook(tmp_path / "book") as book:
        register_example(book)
        book.add([source()], [draft(n, rows=150 + n) for n in (1, 2, 3)], aircraft="Heron")
        book.note({FLIGHT: FlightNote(remarks="calm")})
    return tmp_path / "book"


@pytest.fixture(scope="module")
def server():
    """Where an S3-compatible server answers; '' without one."""
    if not SERVER.exists():
        if os.environ.get("CI") == "true":
            pytest.fail("no object storage server; under CI=true its tests must run: sh tools/object_storage.sh")
        warnings.warn("NO OBJECT STORAGE SERVER: addresses of files stand for it", stacklevel=1)
        yield ""
        return
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    process = subprocess.Popen(
        [SERVER, "-H", "127.0.0.1", "-p", str(port)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        address = f"http://127.0.0.1:{port}"
        for _ in range(600):
            try:
                urllib.request.urlopen(f"{address}/moto-api/", timeout=1).read()
                break
            except (OSError, urllib.error.URLError):
                time.sleep(0.1)
        yield address
    finally:
        process.kill()
        process.wait()


@pytest.fixture
def storage(server, folder, tmp_path, monkeypatch):
    """What writes to the storage that holds the logbook, and the logbook's address."""
    for name, value in {
        "AWS_ACCESS_KEY_ID": "test", "AWS_SECRET_ACCESS_KEY": "test", "AWS_DEFAULT_REGION": "us-east-1",
        "AWS_EC2_METADATA_DISABLED": "true", "HOME": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path / "copies"),
    }.items():  # fmt: skip
        monkeypatch.setenv(name, value)
    if server:
        monkeypatch.setenv("AWS_ENDPOINT_URL", server)
        files = pafs.S3FileSystem(endpoint_override=server, allow_bucket_creation=True, region="us-east-1")
        files.create_dir("club")
        top, address = "club/deep/book", "s3://club/deep/book"
    else:
        files, top = pafs.LocalFileSystem(), str(tmp_path / "club" / "deep" / "book")
        address = f"file://{top}"

    def put(name, data):
        files.create_dir(f"{top}/{name}".rpartition("/")[0], recursive=True)
        with files.open_output_stream(f"{top}/{name}") as stream:
            stream.write(data)

    for name, data in everything(folder).items():
        put(name, data)
    return put, address


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
    put, address = storage
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
    assert "no logbook" in said_once(run("flights", "--logbook", f"{address}-elsewhere"))
    if address.startswith("s3:"):
        assert "no logbook" in said_once(run("flights", "--logbook", "s3://nobodys/book"))
    # It is verified and backed up from there; what must change something wants a folder.
    assert run("check", "--logbook", address).stdout == "Every file is as it was stored.\n"
    put("entered.jsonl", (folder / "entered.jsonl").read_bytes())
    assert run("backup", tmp_path / "kept.zip", "--logbook", address).returncode == 0
    assert run("restore", tmp_path / "kept.zip", "--logbook", tmp_path / "back").returncode == 0
    assert run("check", "--logbook", tmp_path / "back").returncode == 0
    for name in ("flights", "register", "entered.jsonl"):
        assert everything(tmp_path / "back" / name) == everything(folder / name)
    (tmp_path / "other.toml").write_text("[aircraft]\nname = 'Other'\n")
    for words in (["check", "--repair"], ["restore", tmp_path / "kept.zip"], ["desk", "--no-browser"], ["record", "-"]):
        assert "is an address" in said_once(run(*words, "--logbook", address)), words
    assert "read only" in said_once(run("register", tmp_path / "other.toml", "--logbook", address))
    # A change there is seen; damage there is told.
    with Logbook(folder) as book:
        book.note({FLIGHT: FlightNote(remarks="windy")})
    put("catalogue.sqlite", (folder / "catalogue.sqlite").read_bytes())
    put(f"flights/{FLIGHT}.parquet", b"x")
    with StoredLogbook(address) as book:
        assert book.notes()[FLIGHT].remarks == "windy"
        with pytest.raises(LogbookProblem, match="is damaged"):
            book.telemetry(FLIGHT)
    checked = run("check", "--logbook", address)
    assert f"the telemetry of flight {FLIGHT}" in checked.stdout
    assert (checked.returncode, "--repair" in checked.stdout) == (6, False)
    backed = run("backup", tmp_path / "bad.zip", "--logbook", address)
    assert (backed.returncode, "damaged" in backed.stderr) == (7, True)

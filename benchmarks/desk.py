"""How soon the desk answers: start, pages of a large logbook, the review of a large log, upload, many browsers at once.

``python benchmarks/desk.py [--flights 1000] [--megabytes 150] [--upload 200] [--browsers 20]``. Each figure is the best
of some runs, in milliseconds, and as a ratio to what the machine needs anyway: a bare Python that imports what every
program here needs, the same page of an empty logbook, hashing the same file once, writing the same bytes to the disk.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx2 as httpx
import psutil
from starlette.testclient import TestClient

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "spooldown")]

from made import draft, source  # noqa: E402

from spooldown import register  # noqa: E402
from spooldown.desk.application import make  # noqa: E402
from spooldown.desk.session import Desk, Place  # noqa: E402
from spooldown.logbook.book import Logbook  # noqa: E402
from spooldown.logbook.note import FlightNote  # noqa: E402

HOST = "127.0.0.1:8765"
MB = 1 << 20


def best(run: Callable[[], object], times: int = 5) -> float:
    """Seconds of the quickest of some runs."""
    took = []
    for _ in range(times):
        begin = time.perf_counter()
        run()
        took.append(time.perf_counter() - begin)
    return min(took)


def tell(what: str, seconds: float, reference: float, against: str) -> None:
    print(f"{what:48} {1000 * seconds:8.0f} ms   {seconds / reference:6.1f} × {against}", flush=True)


def filled(folder: Path, flights: int) -> str:
    """A logbook of so many small flights, noted; returns the last one's id."""
    with Logbook(folder) as book, book.writing():
        register.add(book, (ROOT / "sample_logs" / "aircraft" / "tern.toml").read_bytes(), "tern.toml")
        ids = []
        for n in range(flights):
            start = datetime(2020, 1, 1, 10, tzinfo=UTC) + timedelta(days=n)
            ids += book.add([source(f"{n}.csv", f"{n:064d}")], [draft(rows=5, utc_start=start)], aircraft="Tern")
        book.set_notes({i: FlightNote(remarks=f"flight {i}") for i in ids})
    return ids[-1] if ids else ""


def browser(folder: Path) -> tuple[Desk, TestClient]:
    desk = make(folder, Place("127.0.0.1", 8765), [HOST])
    client = TestClient(desk.app, base_url=f"http://{HOST}", follow_redirects=False)
    client.get("/enter", params={"code": desk.keys.code(own=True)})
    return desk, client


@contextmanager
def running(folder: Path) -> Iterator[tuple[str, str, psutil.Process]]:
    env = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(folder / "cache")}
    command = [sys.executable, "-m", "spooldown", "desk", "--no-browser", "--logbook", str(folder / "logbook")]
    process = subprocess.Popen(command, env=env, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout
        entry = None
        while entry is None:
            line = process.stdout.readline()
            assert line, "the desk ended"
            entry = re.search(r"http://\S+/enter\S+", line)
        yield entry[0].partition("/enter")[0], entry[0], psutil.Process(process.pid)
    finally:
        process.terminate()
        process.wait(20)


def start(folder: Path) -> None:
    def once() -> None:
        with running(folder) as (url, _, _):
            httpx.get(f"{url}/alive")

    def bare() -> None:
        subprocess.run([sys.executable, "-c", "import numpy, pyarrow, starlette, uvicorn, jinja2"], check=True)

    tell("start, until it answers and stops again", best(once, 3), best(bare, 3), "a bare Python with its libraries")


def pages(folder: Path, flights: int) -> None:
    last = filled(folder / "large", flights)
    desk, client = browser(folder / "large")
    empty, nothing = browser(folder / "none")
    reference = best(lambda: nothing.get("/"))
    file = "tern.toml"
    for path in ("/", "/flights", f"/flights/{last}/note", "/aircraft", f"/aircraft/{file}/form",
                 f"/aircraft/{file}/antennas", "/settings", "/take-away"):  # fmt: skip
        assert client.get(path).status_code == 200, path
        shown = path.replace(last, "…") if last else path
        tell(f"{shown} at {flights} flights", best(lambda path=path: client.get(path)), reference, "an empty logbook's")
    desk.close()
    empty.close()


def review(folder: Path, megabytes: int) -> None:
    header = "Time (s),RX1 Voltage (V),RX1 Current (A),EGT left (°C),RPM left,Fuel left (mL),Latitude,Longitude\n"
    rows = "".join(
        f"{k / 50:.2f},{7.4 - k % 100 / 1000:.3f},{1 + k % 7 / 10:.2f},{600 + k % 50},{90000 + k % 999},"
        f"{3600 - k / 1000:.1f},{47.1 + k % 1000 / 1e5:.6f},{8.5 + k % 900 / 1e5:.6f}\n" for k in range(20_000)
    )  # fmt: skip
    log = folder / "large.csv"
    with log.open("w", encoding="utf-8") as out:
        out.write(header)
        while out.tell() < megabytes * MB:
            out.write(rows)
    desk, client = browser(folder / "review")

    def once() -> None:
        token = re.search(r'data-token="([0-9a-f]+)"', client.get("/").text)
        assert token
        headers = {"X-Token": token[1]}
        batch = client.post("/logs", headers=headers).json()["batch"]
        client.put(f"/logs/{batch}/file", params={"name": "x.csv"}, content=b"a\n1\n", headers=headers)
        held = desk.incoming.get(batch)
        assert held is not None
        held.files[0].path.unlink()
        held.files[0].path.hardlink_to(log)
        nonlocal took
        begin = time.perf_counter()
        assert client.get(f"/logs/{batch}").status_code == 200
        took = min(took, time.perf_counter() - begin)
        desk.incoming.drop(held)

    def hashed() -> None:
        with log.open("rb") as file:
            hashlib.file_digest(file, "sha256")

    took = float("inf")
    best(once, 3)
    tell(f"review of {megabytes} MB", took, best(hashed, 3), "hashing it once")
    desk.close()


def crowd(folder: Path, upload: int, browsers: int) -> None:
    with running(folder) as (url, entry, process):
        visitor = httpx.Client(base_url=url, timeout=600)
        visitor.get(entry)
        token = re.search(r'data-token="([0-9a-f]+)"', visitor.get("/").text)
        assert token
        headers = {"X-Token": token[1]}
        batch = visitor.post("/logs", headers=headers).json()["batch"]
        block = b"1,7.4\n" * (MB // 6)
        before = most = process.memory_info().rss

        def body() -> Iterator[bytes]:
            nonlocal most
            for _ in range(upload):
                yield block
                most = max(most, process.memory_info().rss)

        begin = time.perf_counter()
        answer = visitor.put(f"/logs/{batch}/file", params={"name": "x.csv"}, content=body(), headers=headers)
        took = time.perf_counter() - begin
        assert answer.status_code == 200

        def written() -> None:
            with tempfile.TemporaryFile() as file:
                for _ in range(upload):
                    file.write(block)

        tell(f"upload of {upload} MB", took, best(written, 1), "writing as much to the disk")
        print(f"{'memory it took besides':48} {(most - before) / MB:8.0f} MB")
        visitor.post(f"/logs/{batch}/discard", data={"token": token[1]})

        def visit(_: int) -> float:
            own = httpx.Client(base_url=url, cookies=visitor.cookies, timeout=60)
            begin = time.perf_counter()
            for path in ("/", "/flights", "/aircraft", "/settings"):
                assert own.get(path).status_code == 200
            return (time.perf_counter() - begin) / 4

        alone = min(visit(0) for _ in range(3))
        with ThreadPoolExecutor(browsers) as many:
            worst = max(many.map(visit, range(browsers)))
        tell(f"a page, the slowest of {browsers} browsers at once", worst, alone, "one alone")


def main() -> None:
    """Run everything."""
    parser = argparse.ArgumentParser(description=__doc__)
    for name, usual in (("flights", 1000), ("megabytes", 150), ("upload", 200), ("browsers", 20)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        start(folder)
        pages(folder, asked.flights)
        review(folder, asked.megabytes)
        crowd(folder, asked.upload, asked.browsers)


if __name__ == "__main__":
    main()

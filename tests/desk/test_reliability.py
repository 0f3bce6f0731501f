"""A desk that is killed, crowded, and given more than its memory holds."""

from __future__ import annotations

import errno
import os
import socket
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx2 as httpx
import psutil
import pytest

from spooldown import register
from spooldown.desk.serve import free_port, note_of, running
from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from tests.desk import killing
from tests.desk.conftest import SAMPLES
from tests.desk.killing import Visitor
from tests.desk.real_desk import ROOT, running_desk
from tests.spooldown.made import draft, source

MB = 1 << 20


def logbook(folder: Path) -> str:
    """A logbook with one flight and a described aircraft; returns the flight's id."""
    with Logbook(folder / "logbook") as book:
        register.add(book, (SAMPLES / "aircraft" / "tern.toml").read_bytes(), "tern.toml")
        (flight_id,) = book.add([source("a.csv")], [draft()], aircraft="Tern")
    return flight_id


@pytest.mark.skipif(os.name != "posix", reason="kill -9 is POSIX's")
def test_a_desk_killed_beside_another_while_both_save_loses_nothing_it_answered_for(tmp_path: Path) -> None:
    done = killing.run(1, 1, tmp_path, longest_s=0.6, beside=False)
    assert done["saves"] >= killing.HANDS


def test_a_large_file_comes_in_with_bounded_memory_and_twenty_browsers_are_served(tmp_path: Path) -> None:
    flight_id = logbook(tmp_path)
    with running_desk(tmp_path) as desk:
        visitor = Visitor(desk).enter(desk.entry)
        process = psutil.Process(desk.process.pid)
        headers = {"X-Token": visitor.token}
        batch = visitor.http.post("/logs", headers=headers).json()["batch"]
        before = process.memory_info().rss
        most = [before]
        done = threading.Event()

        def watch() -> None:
            while not done.wait(0.02):
                most[0] = max(most[0], process.memory_info().rss)

        watching = threading.Thread(target=watch)
        watching.start()
        block = b"1,7.4\n" * (MB // 6)
        body = (block for _ in range(96))
        answer = visitor.http.put(f"/logs/{batch}/file", params={"name": "x.csv"}, content=body, headers=headers)
        done.set()
        watching.join()
        assert answer.status_code == 200, answer.text
        assert answer.json()["size"] == 96 * len(block)
        assert most[0] - before < 32 * MB, f"96 MB came in; memory grew by {(most[0] - before) / MB:.0f} MB"
        visitor.post(f"/logs/{batch}/discard")

        def browse(number: int) -> list[int]:
            own = httpx.Client(base_url=desk.url, cookies=visitor.http.cookies, timeout=60)
            codes = [own.get(path).status_code for path in ("/", "/flights", f"/flights/{flight_id}/note")]
            check = {
                "token": visitor.token, "aircraft": "Tern", "day": "2026-04-17", "receiver": "rx1", "antenna": "1",
                "distance_m": str(50 + number), "reduction_db": "30", "orientation": f"turned {number}",
            }  # fmt: skip
            return [*codes, own.post("/range-checks", data=check).status_code]

        with ThreadPoolExecutor(20) as crowd:
            answers = list(crowd.map(browse, range(20)))
        assert answers == [[200, 200, 200, 303]] * 20
        with Logbook(tmp_path / "logbook") as book:
            assert sorted(c.distance_m for _, _, c in book.range_checks()) == [50.0 + n for n in range(20)], (
                "none is lost"
            )


def test_the_desk_starts_without_what_only_an_analysis_needs() -> None:
    """What takes a second to load is loaded by the first request that needs it."""
    code = "import sys, spooldown.desk.application; print(*sorted({m.partition('.')[0] for m in sys.modules}))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert not {"scipy", "pandas", "statsmodels", "pint", "plotly", "dask", "ruptures"} & set(done.stdout.split())


def test_a_note_of_a_desk_that_is_gone_is_not_believed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    note = note_of(tmp_path / "logbook")
    note.parent.mkdir(parents=True, exist_ok=True)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        port = taken.getsockname()[1]
        for text in ("", "{", "[1]", '{"url": "http://198.51.100.1:80", "name": "x"}',
                     f'{{"url": "http://127.0.0.1:{port}", "name": "x"}}'):  # fmt: skip
            note.write_text(text, "utf-8")
            assert running(note) == ""


def test_where_the_usual_port_is_taken_another_is_found() -> None:
    first = free_port(None)
    second = free_port(None)
    assert first.getsockname()[1] != second.getsockname()[1]
    first.close()
    second.close()


def test_the_newest_flights_are_those_of_the_whole_list(tmp_path: Path) -> None:
    with Logbook(tmp_path / "logbook") as book:
        for k, n in enumerate((3, 1, 4, 1, 5, 9, 2, 6)):
            start = datetime(2031, 1, n, 10, tzinfo=UTC) + timedelta(minutes=7 * n)
            book.add(
                [source(f"{k}.csv", f"{k:02d}")], [draft(rows=5 + n, utc_start=start)], aircraft="A" if n % 2 else "B"
            )
        book.add([source("undated.csv", "99")], [draft(rows=40, utc_start=None)], aircraft="A")
        newest = book.flights()[::-1]
        assert book.latest(100) == newest
        assert book.latest(3, skip=2) == newest[2:5]
        assert book.latest(2, aircraft="B") == [f for f in newest if f.aircraft == "B"][:2]
        assert book.owners() == {
            "A": sum(f.aircraft == "A" for f in newest),
            "B": sum(f.aircraft == "B" for f in newest),
        }
        book.note({newest[0].flight_id: FlightNote(remarks="x"), newest[1].flight_id: FlightNote(remarks="y")})
        assert book.noted() == {newest[0].flight_id, newest[1].flight_id}
        assert set(book.notes({newest[1].flight_id, "nobody"})) == {newest[1].flight_id}


@pytest.mark.builds
def test_pages_that_find_no_room_are_one_sentence_and_no_fault_of_ours(flown, monkeypatch):
    def full(*words, **more):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("reports.site.build_site", full)
    (said,) = flown.finished(flown.post("/build"))["failed"]
    assert "make room" in said
    assert "fault" not in said

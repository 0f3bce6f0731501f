"""Kill a process at random instants while it changes a logbook; see each time that nothing reported done is lost.

Run by ``test_killed.py`` for a few rounds, by ``make kill`` for a thousand.
The sequence of changes follows from a seed. The process that makes them notes each one as done; after the kill the
logbook must be as it was after the last one noted, or after the next one, and whole.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
import pandas  # noqa: F401 - pyarrow loads it on its first conversion
import pyarrow.compute
import pyarrow.parquet  # noqa: F401 - loaded once, used in the forked processes only
from made import draft, source

from analyser.programme.snags import Remedy, Snag
from spooldown import register
from spooldown.judging.files import save
from spooldown.logbook import archive, catalogue, codec, store  # noqa: F401
from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from spooldown.programme import snags
from spooldown.upkeep.checking import check

DAY = date(2031, 1, 1)
State = dict[str, dict[str, list[str]]]
KINDS = (
    *("add", "add", "note", "note", "owner", "owner", "remove", "remove", "bring_back", "bring_back"),
    *("empty", "check", "backup", "register", "snag", "snag", "remedy", "limits", "again", "again", "delete"),
)


def flight_ids(number: int) -> list[str]:
    day = datetime(2031, 1, 1, tzinfo=UTC) + timedelta(days=number)
    return [f"heron-{day:%Y-%m-%d}-{letter}" for letter in ("ab" if number % 3 == 0 else "a")]


def plan(state: State, number: int, draw: random.Random) -> tuple[str, str]:
    """Choose a change that is possible now; a flight it is about, or ''."""
    kind = draw.choice(KINDS) if len(state["flights"]) < 8 else draw.choice(("remove", "note", "owner", "again"))
    choices = sorted(state["bin" if kind == "bring_back" else "flights"])
    if kind in ("note", "owner", "remove", "bring_back", "again", "delete"):
        return (kind, draw.choice(choices)) if choices else ("add", "")
    if kind == "remedy":
        return (kind, draw.choice(sorted(state["snags"]))) if state["snags"] else ("snag", "")
    return kind, ""


def after(state: State, number: int, kind: str, flight: str) -> State:
    """The state that a change leads to, worked out without the logbook."""
    flights, in_bin, snags = ({k: list(v) for k, v in state[part].items()} for part in ("flights", "bin", "snags"))
    if kind == "add":
        flights |= {i: ["", "Heron"] for i in flight_ids(number)}
    elif kind == "note":
        flights[flight][0] = f"remark {number}"
    elif kind == "owner":
        flights[flight][1] = f"Heron {number}"
    elif kind == "remove":
        in_bin[flight] = flights.pop(flight)
    elif kind == "delete":
        del flights[flight]
    elif kind == "bring_back":
        flights[flight] = in_bin.pop(flight)
    elif kind == "empty":
        in_bin = {}
    elif kind == "snag":
        snags[f"S{len(snags) + 1}"] = [f"snag {number}"]
    elif kind == "remedy":
        snags[flight].append(f"remedy {number}")
    return {"flights": flights, "bin": in_bin, "snags": snags}


def change(folder: Path, number: int, kind: str, flight: str) -> None:
    if kind == "check":
        check(folder, repair=True)
        return
    with Logbook(folder) as book:
        if kind == "add":
            start = datetime(2031, 1, 1, 9, tzinfo=UTC) + timedelta(days=number)
            drafts = [draft(n + 1, rows=300 + number, utc_start=start) for n in range(len(flight_ids(number)))]
            book.add([source(f"{number}.csv", f"{number:04x}")], drafts, aircraft="Heron")
        elif kind == "note":
            book.note({flight: FlightNote(remarks=f"remark {number}")})
        elif kind == "owner":
            book.assign([flight], f"Heron {number}")
        elif kind == "remove":
            book.remove([flight])
        elif kind == "again":
            was = book.flight(flight)
            book.replace_telemetry(was, draft(was.part, rows=200 + number % 90, utc_start=was.utc_start))
        elif kind == "delete":
            book.delete([flight])
        elif kind == "bring_back":
            book.bring_back([flight])
        elif kind == "empty":
            book.empty_bin()
        elif kind == "snag":
            snags.add(book, Snag(0, "Heron", "", "", f"snag {number}", DAY))
        elif kind == "remedy":
            snags.add_remedy(book, int(flight[1:]), Remedy(DAY + timedelta(days=number), f"remedy {number}"))
        elif kind == "limits":
            text = f'# {number}\n[[limits]]\nname = "a"\nevent = "sag"\nlevel = "act"\n'
            save(book, "Heron", text)
        elif kind == "register":
            register.add(book, register.EXAMPLE.encode() + f"# {number}\n".encode(), "heron.toml")
        elif kind == "backup":
            archive.back_up(book, folder.with_name("backup.zip"))
            restored = folder.with_name("restored")
            shutil.rmtree(restored, ignore_errors=True)
            archive.restore(folder.with_name("backup.zip"), restored)


def found(folder: Path) -> State:
    """The logbook's state, every flight read; then the same once it is settled, and nothing damaged."""
    with Logbook(folder) as book:
        before = _state(book)
    for damage in check(folder, repair=True):
        assert any(
            w in str(damage) for w in ("temporary", "left of a writer", "belong to no flight", "made by hand")
        ), damage
    assert check(folder) == [], check(folder)
    with Logbook(folder) as book:
        assert _state(book)["flights"].keys() == before["flights"].keys()
        return _state(book)


def _state(book: Logbook) -> State:
    notes = book.notes()
    for flight in book.flights():
        assert book.telemetry(flight.flight_id).table.num_rows == flight.rows
    in_bin = book.db.execute("SELECT flight_id, body FROM removed").fetchall()
    return {
        "flights": {
            f.flight_id: [notes[f.flight_id].remarks if f.flight_id in notes else "", f.aircraft]
            for f in book.flights()
        },
        "snags": {s.name: [s.title, *(r.what for r in s.remedies)] for s in snags.all_snags(book)},
        "bin": {
            i: [_remarks(b["note"]), b["flight"]["aircraft"]]
            for i, b in ((i, json.loads(body)) for i, body in in_bin)
            if not b.get("emptying")  # deleted for good, and only its file may still be there
        },
    }


def _remarks(note: str) -> str:
    return str(json.loads(note)["remarks"]) if note else ""


def forked(work: Callable[[], None]) -> int:
    pid = os.fork()
    if pid == 0:
        try:
            work()
            os._exit(0)
        except BaseException:
            import traceback

            traceback.print_exc()
            os._exit(1)
    return pid


def run(rounds: int, seed: int, place: Path, *, longest_s: float = 0.06) -> dict[str, int]:
    """Kill so many times; returns how often each kind of change was under way."""
    catalogue.SYNCHRONOUS = "OFF"  # a kill leaves what was written; only a power cut would not
    os.fsync = lambda handle: None  # type: ignore[assignment,misc]
    codec.from_json(codec.to_json(FlightNote()), FlightNote)  # what is compiled once is there when the work begins
    folder, done_file = place / "book", place / "done"
    done_file.write_text("")
    draw = random.Random(seed)
    state: State = {"flights": {}, "bin": {}, "snags": {}}
    number, struck = 0, dict.fromkeys(KINDS, 0)
    for _ in range(rounds):
        # Some changes are done whole, then it strikes within the next one, which may be a long or a short one.
        done_file.write_text("")
        begun, until = number, number + draw.randrange(4)
        wait = draw.random() ** 3 * longest_s

        def work(state: State = state, begun: int = begun) -> None:
            with done_file.open("w") as done:
                for n in range(begun, begun + 1000):
                    kind, flight = plan(state, n, random.Random(seed * 1_000_003 + n))
                    change(folder, n, kind, flight)
                    state = after(state, n, kind, flight)
                    print(n, file=done, flush=True)

        pid = forked(work)
        while len(done_file.read_text().split()) < until - begun and not os.waitpid(pid, os.WNOHANG)[0]:
            time.sleep(0.001)
        time.sleep(wait)
        os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        assert os.WIFSIGNALED(status), "a change failed before it was killed"
        lines = done_file.read_text().split()
        last = int(lines[-1]) if lines else begun - 1
        for n in range(number, last + 1):
            state = after(state, n, *plan(state, n, random.Random(seed * 1_000_003 + n)))
        number = last + 1
        kind, flight = plan(state, number, random.Random(seed * 1_000_003 + number))
        struck[kind] += 1
        either = (state, after(state, number, kind, flight))
        out = place / "found.json"

        def look(out: Path = out) -> None:
            out.write_text(json.dumps(found(folder)))

        _, status = os.waitpid(forked(look), 0)
        assert status == 0, f"the logbook is not whole after a kill in {kind} (change {number})"
        seen = json.loads(out.read_text())
        assert seen in either, f"after a kill in {kind} {flight} (change {number}):\n{seen}\nis neither of\n{either}"
        if seen != state or either[0] == either[1]:
            number += 1  # it had happened, or happens again to no effect
        state = seen
    return struck


if __name__ == "__main__":
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else int(time.time())
    print(f"seed {seed}", flush=True)
    with tempfile.TemporaryDirectory() as place:
        print(json.dumps(run(rounds, seed, Path(place)), indent=1))

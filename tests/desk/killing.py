"""Kill one of two desks of a logbook at random instants while both save; see that nothing they answered for is lost.

Run by ``test_reliability.py`` for a round, by ``make kill-desks`` for many. Each hand at a desk has flights and an
aircraft of its own, so that what must be there follows from what it was answered; notes, snags and records of all of
them, limits and the register lie in the same tables and files. Commands change and read the logbook meanwhile.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Any

import httpx2 as httpx
from msgspec import Struct, field

sys.path.insert(0, str(Path(__file__).parents[2]))
from spooldown import register
from spooldown.bench.checklist import checklists, ticks
from spooldown.bench.kept import bench_records
from spooldown.judging.files import save, text_of
from spooldown.logbook.book import Logbook
from spooldown.programme.service import KIND as COMPONENT
from spooldown.programme.snags import all_snags
from spooldown.upkeep.checking import check
from tests.desk.real_desk import ROOT, Running, running_desk
from tests.spooldown.made import draft, source

HANDS = 4
"""Two at each desk."""
LIMITS = '[[limits]]\nname = "a"\nevent = "sag"\nlevel = "act"\n# {}\n'
LEAST = '[aircraft]\nname = "{}"\n\n[[tanks]]\nname = "main"\ncapacity_ml = 3000\n# {}\n'
AFTER_A_KILL = ("temporary", "left of a writer", "belong to no flight", "made by hand", "is not what was written")
"""What a kill may leave, and `check` says: none of it is anything that was answered for."""


class Visitor:
    """A browser without a browser: its key, and the token of its forms."""

    def __init__(self, running: Running) -> None:
        self.http = httpx.Client(base_url=running.url, timeout=60)

    def enter(self, entry: str) -> Visitor:
        assert self.http.get(entry).status_code == 303
        found = re.search(r'data-token="([0-9a-f]+)"', self.http.get("/").text)
        assert found
        self.token = found[1]
        return self

    def beside(self, running: Running) -> Visitor:
        """Another connection of the same browser."""
        other = Visitor(running)
        other.http.cookies, other.token = self.http.cookies, self.token
        return other

    def post(self, path: str, **data: str) -> httpx.Response:
        return self.http.post(path, data={"token": self.token, **data})


class Hand(Struct):
    """Somebody at a desk; ``kept`` is what was answered for, ``asked`` what was under way when the desk was killed."""

    number: int
    flights: tuple[str, str]
    kept: dict[str, Any] = field(default_factory=dict)
    asked: tuple[str, Any] | None = None
    wrong: list[str] = field(default_factory=list)
    saves: int = 0

    @property
    def aircraft(self) -> str:
        return f"Heron {self.number}"

    def forms(self, what: str) -> Iterator[tuple[str, Any, str, dict[str, str]]]:
        """Everything a desk saves: under which name it is looked up, what it must be, the form's place, its fields."""
        a, (flown, moved) = self.aircraft, self.flights
        yield f"note of {flown}", what, f"/flights/{flown}/note", {"remarks": what}
        yield "snags", what, f"/programme/{a}", {"title": what, "day": "2026-05-01"}
        yield "components", what, f"/programme/{a}/service", {"do": "add", "name": what, "kind": "other"}
        yield "bench", what, "/bench/flow", {
            "subject": f"{a}/main", "measured_ml": "500", "sensor_ml": "520", "remarks": what,
        }  # fmt: skip
        yield "checks", what, "/range-checks", {
            "aircraft": a, "day": "2026-04-17", "receiver": "rx1", "antenna": "1", "distance_m": "60",
            "reduction_db": "30", "orientation": what,
        }  # fmt: skip
        yield f"list of {a}", [what], f"/checklist/{a}", {"items": what}
        yield f"ticks of {flown}", [what], f"/flights/{flown}/checklist", {"item": what}
        for name, made, place in (
            ("limits", LIMITS.format(what), f"/programme/{a}/limits"),
            ("aircraft", LEAST.format(a, what), f"/aircraft/heron-{self.number}.toml"),
        ):
            there = hashlib.sha256(self.kept[f"{name} of {a}"].encode()).hexdigest()[:16]
            yield f"{name} of {a}", made, place, {"text": made, "mark": there}
        away = self.kept[f"bin of {moved}"]
        yield f"bin of {moved}", not away, f"/bin/{moved}/restore" if away else f"/flights/{moved}/remove", {}

    def work(self, visitor: Visitor, draw: random.Random, over: threading.Event) -> None:
        """Save one thing after another until the desk is gone or ``over`` is set."""
        with suppress(httpx.HTTPError):
            while not over.is_set():
                self.saves += 1
                name, value, place, cells = draw.choice(list(self.forms(f"h{self.number} {self.saves}")))
                self.asked = (name, value)
                answer = visitor.post(place, **cells)
                if answer.status_code == 303:
                    self.keep(name, value)
                else:
                    said = re.search(r'class="problem"[^>]*>(.*?)</p>', answer.text, re.DOTALL)
                    self.wrong.append(f"{place}: {answer.status_code} {said[1] if said else answer.text[-300:]}")
                self.asked = None

    def keep(self, name: str, value: Any) -> None:
        if " of " in name:
            self.kept[name] = value
        else:
            self.kept.setdefault(name, []).append(value)

    def compare(self, found: dict[str, Any]) -> None:
        """Hold what is there against what was answered for; what was under way may be there."""
        name, value = self.asked or ("", None)
        for key, there in found.items():
            wanted = self.kept.get(key, [] if " of " not in key else None)
            if there != wanted:
                may = value if " of " in key else [*wanted, value]
                assert key == name, f"{key} is {there}, and {wanted} was answered for"
                assert there == may, f"{key} is {there}, neither {wanted} nor {may}"
                self.keep(name, value)
        self.asked = None


def found_of(hand: Hand, book: Logbook) -> dict[str, Any]:
    """What the logbook holds of a hand's."""
    a, (flown, moved) = hand.aircraft, hand.flights
    mine = f"h{hand.number} "
    notes = book.notes()
    components = (json.loads(body)["name"] for body in book.records(COMPONENT).values())
    return {
        f"note of {flown}": notes[flown].remarks if flown in notes else "",
        "snags": [s.title for s in all_snags(book, a)],
        "components": sorted((n for n in components if n.startswith(mine)), key=lambda n: int(n.split()[1])),
        "bench": [r.remarks for r in bench_records(book).values() if r.aircraft == a],
        "checks": sorted((c.orientation for _, who, c in book.range_checks() if who == a),
                         key=lambda n: int(n.split()[1])),
        f"list of {a}": checklists(book).get(a, []),
        f"ticks of {flown}": ticks(book).get(flown, []),
        f"limits of {a}": text_of(book, a),
        f"aircraft of {a}": (book.register_folder / f"heron-{hand.number}.toml").read_text("utf-8"),
        f"bin of {moved}": moved in book.in_bin(),
    }  # fmt: skip


def begin(folder: Path) -> list[Hand]:
    """Make the logbook that is worked on."""
    hands = []
    with Logbook(folder) as book:
        for k in range(HANDS):
            a = f"Heron {k}"
            register.add(book, LEAST.format(a, "").encode(), "heron.toml")
            save(book, a, LIMITS.format(""))
            ids = [
                i for n in range(2)
                for i in book.add([source(f"{k}{n}.csv", f"{k}{n}")], [draft(rows=30 + 2 * k + n)], aircraft=a)
            ]  # fmt: skip
            hands.append(Hand(k, (ids[0], ids[1])))
        (spare,) = book.add([source("spare.csv", "99")], [draft(rows=60)], aircraft="Heron 0")
        for hand in hands:
            hand.kept = found_of(hand, book)
    assert spare == SPARE
    return hands


SPARE = "heron-0-2031-04-05-c"
"""The flight that commands note."""


def command(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        [sys.executable, "-m", "spooldown", *words, "--logbook", str(folder)], env=env, cwd=ROOT, capture_output=True,
        text=True, check=False,
    )  # fmt: skip


def commands(folder: Path, draw: random.Random, over: threading.Event, said: list[str], wrong: list[str]) -> None:
    """Run one command after another; what one of them notes is the last of ``said``."""
    while not over.is_set():
        words = draw.choice([("note",), ("note",), ("flights",), ("check",), ("pages",), ("snags", "list")])
        if words == ("note",):
            text = f"command {len(said)}"
            words = ("note", SPARE, "--remarks", text)
        done = command(folder, *words)
        if done.returncode or "fault" in done.stderr:
            wrong.append(f"{' '.join(words)}: {done.returncode} {done.stdout[-300:]} {done.stderr[-300:]}")
        elif words[0] == "note":
            said.append(text)


def slow_upload(visitor: Visitor) -> threading.Thread:
    """Send a file that never ends until the desk is gone; returns once it is under way."""
    batch = visitor.http.post("/logs", headers={"X-Token": visitor.token}).json()["batch"]
    sending = threading.Event()

    def body() -> Iterator[bytes]:
        while True:
            yield b"Time (s),RX1 Voltage (V)\n" + b"1,7.4\n" * 10_000
            sending.set()
            time.sleep(0.01)

    def upload() -> None:
        headers = {"X-Token": visitor.token}
        with suppress(httpx.HTTPError):
            visitor.http.put(f"/logs/{batch}/file", params={"name": "x.csv"}, content=body(), headers=headers)

    uploading = threading.Thread(target=upload)
    uploading.start()
    assert sending.wait(20)
    return uploading


def run(rounds: int, seed: int, place: Path, *, longest_s: float = 3.0, beside: bool = True) -> dict[str, int]:
    """Kill a desk so many times, while it takes a file in, too.

    Returns
    -------
    dict of str to int
        How many saves were sent, and how many of them were under way when the desk was killed.
    """
    folder, draw = place / "logbook", random.Random(seed)
    hands, said, wrong, struck = begin(folder), [""], list[str](), 0
    for n in range(rounds):
        with ExitStack() as stack:
            desks = [stack.enter_context(running_desk(place, cache=f"cache{k}")) for k in range(2)]
            first = [Visitor(desk).enter(desk.entry) for desk in desks]
            over = threading.Event()
            working = [
                threading.Thread(target=hand.work, args=(first[k].beside(desks[k]), random.Random(draw.random()), over))
                for hand in hands
                if (k := hand.number % 2) is not None
            ]
            if beside:
                more = random.Random(draw.random())
                working.append(threading.Thread(target=commands, args=(folder, more, over, said, wrong)))
            for one in working:
                one.start()
            working.append(slow_upload(first[n % 2].beside(desks[n % 2])))
            time.sleep(0.3 + draw.random() * longest_s)
            os.kill(desks[n % 2].process.pid, signal.SIGKILL)
            over.set()
            for one in working:
                one.join(120)
                assert not one.is_alive()
        wrong += [w for hand in hands for w in hand.wrong]
        assert wrong == [], wrong
        struck += sum(hand.asked is not None for hand in hands)
        with Logbook(folder) as book:
            for hand in hands:
                hand.compare(found_of(hand, book))
            assert len(book.flight_ids()) + len(book.in_bin()) == 2 * HANDS + 1, "half a file is none"
            assert book.notes()[SPARE].remarks == said[-1] if said[-1] else SPARE not in book.notes()
        for damage in check(folder, repair=True):
            assert any(w in str(damage) for w in AFTER_A_KILL), damage
        assert check(folder) == []
    return {"saves": sum(hand.saves for hand in hands), "under way": struck}


if __name__ == "__main__":
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else int(time.time())
    print(f"seed {seed}", flush=True)
    with tempfile.TemporaryDirectory() as place:
        print(json.dumps(run(rounds, seed, Path(place))))

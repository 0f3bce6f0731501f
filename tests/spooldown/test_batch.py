"""Many logs at once: the same flights as one by one, in order, and what was said to be stored is."""

import pickle

import pytest

from importers.refusal import Refusal
from spooldown.intake import batch
from spooldown.intake.adding import add_file, find_logs
from spooldown.logbook.book import Logbook
from spooldown.problems import LogbookProblem, OpenQuestion
from spooldown.register import load


def log(n, rows=80):
    return "Time (s),Rx1 RSSI (dBm),EGT (°C)\n" + "".join(f"{i / 5:.1f},-{60 + (i + n) % 9},{500 + n + i % 5}\n"
                                                          for i in range(rows))  # fmt: skip


@pytest.fixture
def logs(tmp_path):
    folder = tmp_path / "logs"
    folder.mkdir()
    for n in range(9):
        (folder / f"log{n}.csv").write_text(log(n))
    (folder / "log3.csv").write_text("Dear all,\nthe weather was fine.\n")
    (folder / "log5.csv").write_text(log(2))  # the same content again
    (folder / "log6.csv").write_text(
        "Time,Rx1 RSSI (dBm)\n" + "".join(f"00:{i:02d},-60\n" for i in range(20))
    )  # seconds, or minutes?
    return folder


def stored(book):
    return [(f.flight_id, f.source, f.rows, book.telemetry(f.flight_id).table.to_pydict()) for f in book.flights()]


def one_by_one(folder, logs):
    with Logbook(folder) as book:
        for file in find_logs([logs]):
            try:
                add_file(book, file, load(book))
            except (Refusal, OpenQuestion):
                continue
        return stored(book)


@pytest.mark.parametrize("cores", [1, 2])
def test_side_by_side_is_the_same_as_one_by_one(tmp_path, logs, monkeypatch, cores):
    monkeypatch.setattr("spooldown.processes.workers.available", lambda: cores)
    told = []
    with Logbook(tmp_path / "book") as book:
        found = list(batch.add_files(book, find_logs([logs]), load(book), progress=lambda *said: told.append(said)))
        assert stored(book) == one_by_one(tmp_path / "other", logs)
    assert [file.name for file, _ in found] == [f"logs/log{n}.csv" for n in range(9)]
    outcomes = [o for _, o in found]
    assert isinstance(outcomes[3], Refusal)
    assert str(outcomes[3]).startswith("logs/log3.csv")
    assert outcomes[5].state == "known"
    assert outcomes[5].flight_ids == outcomes[2].flight_ids
    assert isinstance(outcomes[6], OpenQuestion)
    assert {o.state for n, o in enumerate(outcomes) if n not in (3, 5, 6)} == {"imported"}
    assert [size for _, size in told] == sorted(size for _, size in told)
    with Logbook(tmp_path / "book") as book:
        again = [o for _, o in batch.add_files(book, find_logs([logs]), load(book))]
        assert [o.state for o in again if not isinstance(o, Exception)] == ["known"] * 7


def test_what_was_reported_is_stored_and_what_was_not_is_not(tmp_path, logs, monkeypatch):
    monkeypatch.setattr("spooldown.processes.workers.available", lambda: 1)
    monkeypatch.setattr(batch, "TOGETHER", 2)
    with Logbook(tmp_path / "book") as book:
        coming = batch.add_files(book, find_logs([logs]), load(book))
        first = [next(coming)[1] for _ in range(2)]
        coming.close()  # as an interruption does
    with Logbook(tmp_path / "book") as book:
        assert [f.flight_id for f in book.flights()] == [i for o in first for i in o.flight_ids]


def test_a_disk_that_fills_up_costs_no_file_before(tmp_path, logs, monkeypatch):
    monkeypatch.setattr("spooldown.processes.workers.available", lambda: 1)
    monkeypatch.setattr(batch, "TOGETHER", 4)
    whole, calls = Logbook.add, []

    def add(self, *args, **kwargs):
        calls.append(args)
        if len(calls) in (3, 6, 7):  # the third within the transaction; then that file on its own
            raise OSError(28, "No space left on device")
        return whole(self, *args, **kwargs)

    monkeypatch.setattr(Logbook, "add", add)
    with Logbook(tmp_path / "book") as book:
        found = [o for _, o in batch.add_files(book, find_logs([logs]), load(book))]
    monkeypatch.undo()
    assert isinstance(found[-1], LogbookProblem)
    kept = [i for o in found if not isinstance(o, Exception) for i in o.flight_ids]
    with Logbook(tmp_path / "book") as book:
        assert [f.flight_id for f in book.flights()] == kept
        assert len(kept) == 2


def test_a_copy_in_the_same_transaction_is_known(tmp_path, logs, monkeypatch):
    monkeypatch.setattr("spooldown.processes.workers.available", lambda: 1)
    (logs / "log2-part.csv").write_text("\n".join(log(2).split("\n")[:70]) + "\n")
    (logs / "log2.csv").rename(logs / "log2-all.csv")
    with Logbook(tmp_path / "book") as book:
        found = {f.name: o for f, o in batch.add_files(book, find_logs([logs]), load(book))}
        assert found["logs/log2-part.csv"].state == "known"
        assert found["logs/log2-part.csv"].flight_ids == found["logs/log2-all.csv"].flight_ids
        assert len(book.flights()) == 6


def test_a_look_stores_nothing(tmp_path, logs, monkeypatch):
    monkeypatch.setattr("spooldown.processes.workers.available", lambda: 1)
    with Logbook(tmp_path / "book") as book:
        found = [o for _, o in batch.add_files(book, find_logs([logs]), load(book), dry_run=True)]
        assert sum(not isinstance(o, Exception) and o.state == "planned" for o in found) == 8
        assert not book.flights()


def test_a_refusal_comes_back_from_a_worker_whole():
    refusal = Refusal("log.csv", found="this", expected="that", remedy="do so", line=3, column="Time")
    back = pickle.loads(pickle.dumps(refusal))
    assert (str(back), back.line, back.column) == (str(refusal), 3, "Time")

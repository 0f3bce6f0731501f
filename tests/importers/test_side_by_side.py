"""Work in several threads: the same in the same order as one after the other, errors where they belong."""

import gzip
import hashlib
import threading
import time

import pytest

from importers.plan import plan
from importers.read import read
from importers.table import rows as rows_module
from importers.table import text
from importers.table.cells import CellNotes, Cells
from importers.table.dialect import sniff
from importers.table.prefetch import Started, side_by_side
from importers.table.rows import rows
from importers.table.source import Source

LINES = [f"{i / 10:.1f},-{60 + i % 9}" for i in range(3000)]
for at, line in ((40, "4.0"), (900, "90.0,x"), (1700, "170.0,-1,2"), (2500, "250.0,5 V"), (2600, "260.0,y")):
    LINES[at] = line
LOG = "\n".join(["t (s),Rx1 RSSI (dBm)", *LINES, ""]).encode()


@pytest.fixture
def small_blocks(monkeypatch):
    whole = text.blocks
    monkeypatch.setattr(rows_module, "blocks", lambda *a, **k: whole(*a, **{**k, "size": 997}))


def test_results_keep_their_order_whichever_is_ready_first():
    def slow_first(n):
        time.sleep(0.02 if n % 3 == 0 else 0)
        return n

    assert list(side_by_side(slow_first, range(12))) == list(range(12))


def test_an_error_comes_after_the_results_before_it():
    def work(n):
        if n == 3:
            raise ValueError("the fourth")
        return n

    made = side_by_side(work, range(9))
    assert [next(made) for _ in range(3)] == [0, 1, 2]
    with pytest.raises(ValueError, match="the fourth"):
        next(made)


def test_no_thread_is_left_where_the_reader_stops():
    before = threading.active_count()
    made = side_by_side(lambda n: n, iter(range(10**9)))
    assert [next(made), next(made)] == [0, 1]
    made.close()
    assert threading.active_count() == before


def test_begun_work_hands_on_its_error():
    assert Started(lambda: 7).result() == 7
    with pytest.raises(ZeroDivisionError):
        Started(lambda: 1 // 0).result()


def test_notes_of_blocks_read_at_once_are_those_of_blocks_read_in_turn(tmp_path, small_blocks):
    path = tmp_path / "log.csv"
    path.write_bytes(LOG)
    origin = Source(path)
    dialect, _ = sniff(LOG.decode(), text.Encoding("utf-8", 0), "log")
    in_turn, at_once = CellNotes(), CellNotes()
    each = Cells(dialect, ["number", "number"], in_turn)
    every = Cells(dialect, ["number", "number"], at_once)
    one = [each.read(block) for block in rows(origin, dialect, text.TextNotes())]
    two = list(every.read_all(rows(origin, dialect, text.TextNotes())))
    assert len(one) > 20
    assert [t.to_pydict() for t in one] == [t.to_pydict() for t in two]
    assert in_turn == at_once
    assert at_once.ragged == 2
    assert at_once.ragged_at == [42, 1702]
    assert at_once.unread == {"c1": 3}
    assert at_once.unread_first == {"c1": ("x", 902)}


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_keep_their_numbers_wherever_a_block_ends(end, tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(LOG.replace(b"\n", end.encode()))
    found = list(text.blocks(Source(path), text.Encoding("utf-8", 0), text.TextNotes(), size=997))
    assert b"".join(b.text for b in found) == LOG
    assert all(b.text.endswith(b"\n") for b in found)
    assert [b.line for b in found] == [1 + b"".join(b.text for b in found[:n]).count(b"\n") for n in range(len(found))]


def test_the_hash_is_there_with_the_last_row(tmp_path):
    path = tmp_path / "log.csv.gz"
    path.write_bytes(gzip.compress(LOG))
    draft = next(read(plan(path)))
    assert sum(len(b) for b in draft.batches) > 2900
    assert draft.metadata["content_sha256"] == hashlib.sha256(LOG).hexdigest()

"""The corpus of dialects: the known table to the last digit, or one sentence."""

from __future__ import annotations

import io
import os
import threading

import pytest

from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from tests.importers.corpus.cases import CASES
from tests.importers.corpus.spelling import Spelling, expected, render

READ = [c for c in CASES if not c.refused]
REFUSED = [c for c in CASES if c.refused]


def test_names_are_unique():
    assert len({c.name for c in CASES}) == len(CASES)


@pytest.mark.parametrize("case", READ, ids=lambda c: c.name)
def test_read(case):
    member = {k: v for k, v in case.answers.items() if k == "member"}
    first = plan(io.BytesIO(case.data), name="log.csv", answers=member)
    assert {q.key for q in first.questions} == case.asks
    proposal = plan(io.BytesIO(case.data), name="log.csv", answers=case.answers)
    assert not proposal.questions
    drafts = []
    for draft in read(proposal):
        drafts.append((draft.telemetry(), draft))
    assert len(drafts) == case.flights
    telemetry, draft = drafts[0]
    columns = {name: telemetry.table.column(name).to_pylist() for name in telemetry.table.column_names}
    assert {name: columns.get(name) for name in case.table} == case.table
    assert set(columns) == set(case.table) or not case.whole
    assert telemetry.table.num_rows
    assert case.notice in " ".join(n for _, d in drafts for n in map(str, d.notices))
    # What an open question leaves must not slip through unanswered.
    if first.questions:
        with pytest.raises(Refusal, match="open question"):
            next(read(first))


def whole(data: bytes) -> None:
    for draft in read(plan(io.BytesIO(data), name="log.csv")):
        draft.telemetry()


@pytest.mark.parametrize("case", REFUSED, ids=lambda c: c.name)
def test_refused(case):
    with pytest.raises(Refusal) as caught:
        whole(case.data)
    sentence = str(caught.value)
    assert case.refused in sentence
    assert sentence.startswith("log.csv")
    assert sentence.endswith(".")
    assert "\n" not in sentence
    for part in ("found", "expected", ";"):
        assert part in sentence


def test_standard_input_that_cannot_seek():
    spelling = Spelling(delimiter=";", decimal=",", clock="clock")
    inward, outward = os.pipe()

    def feed() -> None:
        with os.fdopen(outward, "wb") as pipe:
            pipe.write(render(spelling))

    thread = threading.Thread(target=feed)
    thread.start()
    with os.fdopen(inward, "rb") as stream:
        proposal = plan(stream, name="standard input")
        flights = read(proposal)
        table = next(flights).telemetry().table
    thread.join()
    assert {name: table.column(name).to_pylist() for name in table.column_names} == expected(spelling)


def test_a_compressed_file_may_not_grow_without_bound(monkeypatch):
    monkeypatch.setattr("importers.table.source.FREE_EXPANSION", 100_000)
    from tests.importers.corpus.spelling import pack

    text = b"time (s),Rx1 RSSI (dBm)\n" + b"".join(b"%d,-60\n" % (i // 1000) for i in range(500_000))
    data = pack(text, "xz")
    assert len(text) > 200 * len(data)
    with pytest.raises(Refusal, match="expands more than"):
        whole(data)

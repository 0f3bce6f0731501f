"""One known table in random dialects: the same table comes back to the last digit, or a reason why not."""

from __future__ import annotations

import io

import pytest
from hypothesis import HealthCheck, assume, event, given, settings
from hypothesis import strategies as st

from importers.plan import plan
from importers.read import read
from tests.importers.corpus.spelling import CLOCKS, HEADINGS, PREAMBLES, START, Spelling, expected, render

MAY_ASK = {"date_order", "time_unit", "decimal"}
"""What a file of this table can leave open; anything else asked would be a nuisance."""


@st.composite
def spellings(draw) -> Spelling:
    long = draw(st.booleans())
    unit_row = draw(st.booleans())
    decimal = draw(st.sampled_from(".,"))
    delimiter = draw(st.sampled_from([",", ";", "\t", "|", " "]))
    clock = draw(st.sampled_from(sorted(CLOCKS)))
    thousands = draw(st.sampled_from(["", "", "'", "," if decimal == "." else "."]))
    headings = draw(st.sampled_from(sorted(HEADINGS)))
    if headings == "bare":
        unit_row = True
    elif not long:
        unit_row = False
    # What no reader could tell apart: a blank cell, and blanks inside a cell, between blanks.
    assume(not (delimiter == " " and ("ISO, no zone" in clock or clock == "clock, am and pm" or unit_row)))
    # Where in its second a slow sensor spoke is not in a long table of whole seconds.
    assume(not (long and clock == "whole seconds"))
    encodings = ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1"]
    return Spelling(
        encoding=draw(st.sampled_from(encodings)),
        delimiter=delimiter,
        decimal=decimal,
        thousands=thousands,
        clock=clock,
        headings=headings,
        unit_row=unit_row,
        preamble=draw(st.sampled_from(sorted(PREAMBLES))),
        line_end=draw(st.sampled_from(["\n", "\r\n", "\r"])),
        long=long,
        blank=draw(st.sampled_from(["", "-", "NaN", "N/A", "null"])),
        quoted=delimiter != " " and draw(st.booleans()),
        trailing=delimiter != " " and draw(st.booleans()),
        repeat_header=draw(st.sampled_from([0, 0, 11])),
        comment_every=draw(st.sampled_from([0, 0, 7])),
        ended=draw(st.booleans()),
        pack=draw(st.sampled_from(["", "", "gz", "zip", "zst", "bz2", "xz"])),
    )


def answers_for(spelling: Spelling, asked: set[str]) -> dict[str, str]:
    truth = {**CLOCKS[spelling.clock][2], "decimal": "comma" if spelling.decimal == "," else "point"}
    return {key: truth[key] for key in asked}


@settings(
    max_examples=300,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(spellings())
def test_the_same_table_comes_back(spelling):
    data = render(spelling)
    proposal = plan(io.BytesIO(data), name="log.csv")
    asked = {q.key for q in proposal.questions}
    event(f"asked: {', '.join(sorted(asked)) or 'nothing'}")
    assert asked <= MAY_ASK
    assert asked <= set(answers_for(spelling, MAY_ASK & {*CLOCKS[spelling.clock][2], "decimal"}))
    if asked:
        proposal = plan(io.BytesIO(data), name="log.csv", answers=answers_for(spelling, asked))
        assert not proposal.questions
    flights = [draft.telemetry() for draft in read(proposal)]
    assert len(flights) == 1
    table = flights[0].table
    assert {name: table.column(name).to_pylist() for name in table.column_names} == expected(spelling)
    start = flights[0].utc_start
    assert start == (START if CLOCKS[spelling.clock][1] else None)
    if spelling.preamble in ("comments", "keys", "slashes"):
        assert proposal.preamble["aircraft"] == "Tern"


CUT = [
    Spelling(),
    Spelling(delimiter=";", decimal=",", clock="clock, comma"),
    Spelling(encoding="utf-16", line_end="\r\n"),
    Spelling(delimiter="\t", trailing=True),
    Spelling(quoted=True, clock="whole seconds"),
    Spelling(delimiter=" "),
    Spelling(long=True),
    Spelling(long=True, unit_row=True, headings="bare", delimiter=";", decimal=","),
]


@pytest.mark.parametrize("spelling", CUT, ids=range(len(CUT)))
def test_cut_anywhere_nothing_wrong_comes_in(spelling):
    """However a file ends, the rows that come in are the first of the table, and at most the last few are missing."""
    whole, truth = render(spelling), expected(spelling)
    for cut in range(1, 75):
        data = whole[:-cut]
        flights = [d.telemetry() for d in read(plan(io.BytesIO(data), name="log.csv"))]
        table = flights[0].table
        assert len(flights) == 1
        assert table.num_rows >= len(truth["time_s"]) - 3
        assert set(table.column_names) == set(truth)
        for name in table.column_names:
            got = table.column(name).to_pylist()
            if got[-1] is None:  # not yet written when the file was cut
                got.pop()
            assert got == truth[name][: len(got)], (name, data[-40:])

"""The one place that touches the importer: what it makes of a log, in plain values.

What the scorer relies on: ``plan()`` proposes columns with ``heading``, ``column``, ``channel`` and ``confidence`` and
asks ``questions``; a question names the headings it is about in its text, in quotes, or in an attribute ``columns``.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping
from datetime import datetime

import numpy as np
from msgspec import Struct, field

from analyser.core.quality import screen
from importers import model
from importers.model import ColumnPlan, Plan, Question
from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from tests.importers.hands.flight import Floats
from tests.importers.hands.truth import Log

DOUBT = float(getattr(model, "DOUBT", 0.5))
"""A certainty below this is shown as doubt."""


class Seen(Struct):
    """What the importer made of a log.

    ``plans`` holds for each column of the truth what was proposed for it; ``asked`` the columns a question is about,
    ``doubted`` those of which it shows a certainty and asks for no more;
    ``values`` the channels over all flights; ``seconds`` the first flight's clock.
    """

    plans: list[list[ColumnPlan]] = field(default_factory=list)
    asked: set[int] = field(default_factory=set)
    doubted: set[int] = field(default_factory=set)
    layout: list[Question] = field(default_factory=list)
    values: dict[str, Floats] = field(default_factory=dict)
    seconds: Floats | None = None
    flights: int = 0
    utc: datetime | None = None
    local: str = ""
    refused: str = ""
    read_refused: str = ""
    notices: list[str] = field(default_factory=list)


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "_", text.casefold()).strip("_")


def _about(question: Question, proposed: ColumnPlan) -> bool:
    """Whether a question is about a column."""
    named = getattr(question, "columns", None)
    if named:
        return proposed.heading in named or proposed.column in named
    rest = question.key.partition(".")[2]
    if proposed.heading and (
        repr(proposed.heading) in str(question.text) or f"'{proposed.heading}'" in str(question.text)
    ):
        return True
    return bool(rest) and rest in (_slug(proposed.heading), proposed.channel)


def _match(log: Log, made: Plan) -> list[list[ColumnPlan]]:
    """Each true column's plans: by number in a wide table, by heading else."""
    out: list[list[ColumnPlan]] = [[] for _ in log.columns]
    left: list[ColumnPlan] = []
    for p in made.columns:
        if log.shape != "long" and 0 <= p.column < len(out):
            out[p.column].append(p)
        else:
            left.append(p)
    for p in left:
        for i, c in enumerate(log.columns):
            if not out[i] and _slug(c.heading.replace("|", " ")) == _slug(p.heading):
                out[i].append(p)
                break
    return out


def _answer(question: Question, said: Mapping[str, str]) -> str:
    if question.key in said:
        return said[question.key]
    return question.answers[0] if question.answers else "none"


def look(log: Log, *, screened: bool = False) -> Seen:
    """Plan a log, answer what it leaves open, and read it, ``screened`` without what the analysis does not believe."""
    seen = Seen(plans=[[] for _ in log.columns])
    try:
        made = plan(io.BytesIO(log.data), name="log.csv")
    except Refusal as e:
        seen.refused = str(e)
        return seen
    seen.plans = _match(log, made)
    plainly_open: set[int] = set()
    for q in made.questions:
        touched = {i for i, ps in enumerate(seen.plans) for p in ps if _about(q, p)}
        clocks = {i for i, c in enumerate(log.columns) if c.clock}
        seen.asked |= touched
        if q.key == "doubtful":
            seen.doubted |= touched
        else:
            plainly_open |= touched
        if not touched - clocks:
            seen.layout.append(q)
    seen.doubted -= plainly_open
    answers: dict[str, str] = {}
    try:
        for _ in range(8):  # an answer may lead to the next question
            if not made.questions:
                break
            answers |= {q.key: _answer(q, log.answers) for q in made.questions}
            made = plan(io.BytesIO(log.data), name="log.csv", answers=answers)
        for n, draft in enumerate(read(made)):
            seen.flights += 1
            telemetry = screen(draft.telemetry()) if screened else draft.telemetry()
            table = telemetry.table
            if not n:
                seen.notices = list(map(str, draft.notices))
                seen.utc, seen.local = draft.utc_start, draft.metadata.get("local_start", "")
                seen.seconds = table.column("time_s").to_numpy(zero_copy_only=False).astype(float)
            for name in table.column_names:
                if name != "time_s" and not name.startswith("extra."):
                    cells = np.array([np.nan if v is None else float(v) for v in table.column(name).to_pylist()])
                    cells[telemetry.masks.get(name, np.zeros(cells.size, dtype=bool))] = np.nan
                    seen.values[name] = np.concatenate([seen.values.get(name, cells[:0]), cells])
    except Refusal as e:
        seen.read_refused = str(e)
    return seen

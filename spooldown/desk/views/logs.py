"""Logs in: drop files, review each layout once, settle what is open, import."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pyarrow as pa
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from analyser.core.channels import VOCABULARY
from importers.model import ColumnPlan, Plan, Question
from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from importers.table.source import Source as Origin
from reports.words.catalogue import message
from spooldown import register
from spooldown.desk.building import build_now
from spooldown.desk.incoming import Batch
from spooldown.desk.session import check, desk_of, form_of, shown, to
from spooldown.desk.sparkline import sparkline
from spooldown.intake.adding import LogFile, add_file, already, no_log
from spooldown.problems import OpenQuestion, Problem

if TYPE_CHECKING:
    from spooldown.desk.jobs import Job
    from spooldown.desk.session import Desk
    from spooldown.logbook.book import Logbook

SURE = 0.9
"""Columns below this certainty are shown first."""
PREVIEW_ROWS = 4_000


@dataclass(slots=True)
class Column:
    """One column in the review: what it is taken for, and its picture."""

    plan: ColumnPlan
    picture: str

    @property
    def doubtful(self) -> bool:
        """Whether a person should look at it."""
        return bool(self.plan.channel) and not self.plan.channel.startswith("extra.") and self.plan.confidence < SURE


@dataclass(slots=True)
class Layout:
    """Files of one layout, reviewed once."""

    mark: str
    files: list[LogFile]
    plan: Plan
    columns: list[Column]
    questions: tuple[Question, ...]

    @property
    def doubts(self) -> list[Column]:
        """Columns to look at first."""
        return [c for c in self.columns if c.doubtful]

    @property
    def kept(self) -> list[Column]:
        """Columns that are kept under their own name only."""
        return [c for c in self.columns if c.plan.channel.startswith("extra.")]

    @property
    def sure(self) -> list[Column]:
        """All other columns."""
        return [
            c for c in self.columns if not c.doubtful and not c.plan.channel.startswith("extra.") and c.plan.channel
        ]


@dataclass(slots=True)
class Review:
    """Everything in a batch: layouts to settle, what is known already, what cannot be read."""

    layouts: list[Layout] = field(default_factory=list)
    known: list[tuple[str, list[str]]] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    aside: list[str] = field(default_factory=list)

    @property
    def open(self) -> bool:
        """Whether something must be answered first."""
        return any(layout.questions for layout in self.layouts)


def _batch(request: Request) -> Batch:
    batch = desk_of(request).incoming.get(request.path_params["batch"])
    if batch is None:
        raise HTTPException(404, "These files are no longer here; drop them again.")
    return batch


async def begin(request: Request) -> Response:
    """Begin a batch; the script asks this before it sends files one by one."""
    check(request, {})
    return JSONResponse({"batch": desk_of(request).incoming.begin().name})


async def put(request: Request) -> Response:
    """Take one file in, streamed."""
    check(request, {})
    arrival = await desk_of(request).incoming.take(
        _batch(request), request.query_params.get("name", "log.csv"), request.stream()
    )
    return JSONResponse({"name": arrival.name, "size": arrival.size})


async def drop(request: Request) -> Response:
    """Take files in from a plain form, for a browser without scripts."""
    incoming = desk_of(request).incoming
    async with request.form(max_files=200, max_fields=20, max_part_size=1 << 20) as form:
        check(request, {"token": [str(form.get("token", ""))]})
        batch = incoming.begin()
        for item in form.getlist("files"):
            if not isinstance(item, str) and item.filename:

                async def chunks(upload=item) -> AsyncIterator[bytes]:  # type: ignore[no-untyped-def]
                    while data := await upload.read(1 << 20):
                        yield data

                await incoming.take(batch, item.filename, chunks())
    if not batch.files:
        incoming.drop(batch)
        return to("/")
    return to(f"/logs/{batch.name}")


def review(request: Request) -> Response:
    """Show what the files are taken for."""
    batch, desk = _batch(request), desk_of(request)
    with desk.book() as book:
        known = register.load(book)
        found = look(batch, book)
    return shown(
        request, "review.html", batch=batch, review=found, aircraft=sorted(known.aircraft), channels=_channel_list(),
        here="logs",
    )  # fmt: skip


async def settle(request: Request) -> Response:
    """Keep what was said of the layouts, and import if that was asked for."""
    form = await form_of(request)
    batch, desk = _batch(request), desk_of(request)
    for name, values in form.items():
        kind, _, rest = name.partition(":")
        mark, _, what = rest.partition(":")
        said = values[-1].strip()
        if kind == "answer":
            _put(batch.answers.setdefault(mark, {}), what, said)
        elif kind == "column" and said:
            batch.columns.setdefault(mark, {})[what] = "" if said == "-" else said
    batch.aircraft = (form.get("aircraft") or [batch.aircraft])[0].strip()
    batch.join = "join" in form
    if "import" not in form:
        return to(f"/logs/{batch.name}")
    return to(f"/jobs/{desk.jobs.start('import', lambda job: bring_in(desk, batch, job)).name}")


def _put(into: dict[str, str], key: str, said: str) -> None:
    if said:
        into[key] = said
    else:
        into.pop(key, None)


async def throw_away(request: Request) -> Response:
    """Forget a batch."""
    await form_of(request)
    desk_of(request).incoming.drop(_batch(request))
    return to("/")


def look(batch: Batch, book: Logbook) -> Review:
    """Plan every file of a batch and gather the files of one layout."""
    found = Review()
    saved = sorted(book.mappings_folder.glob("*.toml"))
    layouts: dict[str, Layout] = {}
    for file in batch.logs():
        try:
            if why := no_log(file):
                found.aside.append(f"{file.name}: {why}")
                continue
            origin = Origin(file.path, file.name)
            if there := already(book, origin):
                found.known.append((file.name, there))
                continue
            proposed = planned(batch, origin, saved)
        except Refusal as refusal:
            found.refused.append(str(refusal))
            continue
        mark = proposed.fingerprint
        if mark not in layouts:
            layouts[mark] = Layout(mark, [], proposed, _columns(proposed), proposed.questions)
            found.layouts.append(layouts[mark])
        layout = layouts[mark]
        layout.files.append(file)
        asked = {q.key for q in layout.questions}
        layout.questions += tuple(q for q in proposed.questions if q.key not in asked)
    return found


def planned(batch: Batch, origin: Origin, saved: Iterable[Path]) -> Plan:
    """Plan one file with what was said of its layout."""
    first = plan(origin, mappings=list(saved))
    mark = first.fingerprint
    answers, columns = batch.answers.get(mark, {}), batch.columns.get(mark, {})
    if not answers and not columns:
        return first
    return plan(origin, mappings=[*_own_mapping(batch, mark), *saved], answers=answers)


def _own_mapping(batch: Batch, mark: str) -> list[Path]:
    import tomli_w

    columns = batch.columns.get(mark)
    if not columns:
        return []
    path = batch.folder / f"said-{mark[:16]}.toml"
    path.write_text(tomli_w.dumps({"name": "as said here", "fingerprint": mark, "columns": columns}), "utf-8")
    return [path]


def _columns(proposed: Plan) -> list[Column]:
    values = _preview(proposed)
    return [
        Column(c, sparkline(values[c.channel]) if c.channel in values else "")
        for c in proposed.columns
        if c.channel != "time_s" and not c.empty
    ]


def _preview(proposed: Plan) -> dict[str, np.ndarray]:
    """The first rows of every column, in its channel's unit; nothing where the file cannot be read so far."""
    try:
        draft = next(iter(read(replace(proposed, questions=()))), None)
        batch = next(draft.batches, None) if draft else None
    except (Refusal, RuntimeError, ValueError):
        return {}
    if batch is None:
        return {}
    out = {}
    for name, column in zip(batch.schema.names, batch.columns, strict=True):
        if pa.types.is_floating(column.type) or pa.types.is_boolean(column.type):
            out[name] = np.asarray(
                column.slice(0, PREVIEW_ROWS).cast(pa.float64()).to_numpy(zero_copy_only=False), float
            )
    return out


def bring_in(desk: Desk, batch: Batch, job: Job) -> None:
    """Import a batch, build the pages, and lead to the flight."""
    added: list[str] = []
    with desk.book() as book:
        known = register.load(book)
        saved = sorted(book.mappings_folder.glob("*.toml"))
        job.whole = max(batch.size, 1)
        if batch.join:
            from spooldown.intake.joining import add_joined

            outcomes = add_joined(book, batch.logs(), known, aircraft=batch.aircraft, mappings=saved)
            added += [i for o in outcomes for i in o.flight_ids]
        before = 0
        for arrival in () if batch.join else batch.files:
            file = LogFile(arrival.path, arrival.name)
            job.step = file.name
            try:
                mark = plan(Origin(file.path, file.name), mappings=saved).fingerprint
                outcome = add_file(
                    book, file, known, aircraft=batch.aircraft, answers=batch.answers.get(mark, {}),
                    mappings=[*_own_mapping(batch, mark), *saved],
                    progress=lambda n, start=before: setattr(job, "done", start + n),  # type: ignore[misc]
                )  # fmt: skip
                added += outcome.flight_ids
                state = "imported" if outcome.state == "imported" else "known" if outcome.state == "known" else "aside"
                job.lines.append(f"{file.name}: {message(f'desk.job.{state}')}")
            except OpenQuestion as question:
                job.failed.append(str(question))
            except (Refusal, Problem) as problem:
                job.failed.append(str(problem))
            before += arrival.size
            job.done = before
    build_now(desk, job)
    job.to = f"/flights/{added[-1]}/note" if len(added) == 1 else "/" if not added else "/flights"
    if not job.failed:
        desk.incoming.drop(batch)


def _channel_list() -> list[tuple[str, str]]:
    return [
        (f"{c.subject}.{'NAME.' if c.has_instance else ''}{c.quantity.replace('<n>', '1')}", f"{c.label} ({c.unit})")
        for c in VOCABULARY
    ]


ROUTES = [
    Route("/logs", begin, methods=["POST"]),
    Route("/logs/drop", drop, methods=["POST"]),
    Route("/logs/{batch}/file", put, methods=["PUT"]),
    Route("/logs/{batch}/discard", throw_away, methods=["POST"]),
    Route("/logs/{batch}", settle, methods=["POST"]),
    Route("/logs/{batch}", review),
]

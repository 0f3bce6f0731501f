"""Flights of the logbook, and what is noted after each: packs, fuel, charge, weather, remarks."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from msgspec import Struct
from msgspec.structs import replace
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from analyser.core.aircraft import PackNote
from analyser.core.findings import Finding, Text, say
from importers.refusal import Refused
from reports.words.catalogue import has, message
from spooldown import register
from spooldown.desk.building import build_pages
from spooldown.desk.session import desk_of, form_of, shown, to
from spooldown.desk.undo import Change, changing, unless
from spooldown.logbook.book import Logbook
from spooldown.logbook.codec import to_bytes
from spooldown.logbook.flight import Flight
from spooldown.logbook.note import FlightNote
from spooldown.problems import Problem, UsageProblem, not_found
from spooldown.register import Register
from spooldown.sheets.notes import PATTERNS, note_of, pattern_of

if TYPE_CHECKING:
    from analyser.flight import FlightResult
    from analyser.programme.snags import Snag


PER_PAGE = 200


def flights(request: Request) -> Response:
    """Flights, newest first, a page at a time."""
    asked = request.query_params.get("skip", "0")
    skip = int(asked) if asked.isdecimal() and len(asked) < 8 else 0
    with desk_of(request).book() as book:
        noted, count = book.noted(), len(book.flight_ids())
        listed = marked(book, book.latest(PER_PAGE, skip=skip))
    return shown(
        request, "flights.html", flights=[(f, f.flight_id in noted, damage) for f, damage in listed], skip=skip,
        per=PER_PAGE, count=count, here="flights",
    )  # fmt: skip


def marked(book: Logbook, listed: Sequence[Flight]) -> list[tuple[Flight, Finding | None]]:
    """Flights for a list, each with what says that its row or its note is damaged."""
    spoilt = book.spoilt_notes({f.flight_id for f in listed})
    return [(f, f.damage or spoilt.get(f.flight_id)) for f in listed]


class Choice(Struct, frozen=True):
    """A pack that may be fitted: its name, what is left in it as far as is known, and where it usually sits."""

    name: str
    left: str
    usual: str


class Place(Struct, frozen=True):
    """Where a pack sits: its name in the log, the packs that may be fitted, and the one that is ticked."""

    role: str
    packs: tuple[Choice, ...]
    fitted: str
    readings: tuple[tuple[str, str, str, str], ...]
    """Column, label, value and unit of each reading; the first two are shown at once."""
    likely: str = ""
    """The pack fitted the last time, ticked where nothing is noted yet."""

    @property
    def usual(self) -> list[Choice]:
        """Packs meant for this place, and the one that is or was in it; all of them where none is meant for it."""
        shown = [p for p in self.packs if p.usual == self.role or p.name in (self.fitted, self.likely)]
        return shown if any(p.usual == self.role for p in self.packs) else list(self.packs)

    @property
    def others(self) -> list[Choice]:
        """All other packs."""
        first = {p.name for p in self.usual}
        return [p for p in self.packs if p.name not in first]


READINGS = (
    ("charged_{}_mah", "charged_mah", "mAh"), ("resistance_{}_mohm", "resistance_mohm", "mΩ"),
    ("capacity_{}_mah", "capacity_mah", "mAh"), ("cell_resistance_{}_mohm", "cell_resistance_mohm", "mΩ"),
    ("pack_temperature_{}_c", "temperature_c", "°C"),
)  # fmt: skip
PILOT = ("pilot_latitude_deg", "pilot_longitude_deg", "pilot_altitude_m")


def note_page(request: Request) -> Response:
    """The form to fill in after a flight."""
    with desk_of(request).book() as book:
        return _form(request, book, request.path_params["flight"])


def _form(
    request: Request, book: Logbook, flight_id: str, *, status: int = 200, problem: str = "",
    cells: Mapping[str, str] | None = None, theirs: FlightNote | None = None,
) -> Response:  # fmt: skip
    flight = book.flight(flight_id)
    known = register.readable(book)
    recent = book.latest(NEWEST)
    own = book.latest(NEWEST, aircraft=flight.aircraft)
    if flight not in own:  # an old one: only a look at all flights tells what was before it
        own = list(reversed([f for f in book.flights() if f.aircraft == flight.aircraft]))
    notes = book.notes({f.flight_id for f in (*recent, *own, flight)})
    note = notes.get(flight_id, FlightNote())
    if spoilt := book.spoilt_notes({flight_id}):
        problem = str(spoilt[flight_id])
    aircraft = known.find_aircraft(flight.aircraft) if flight.aircraft else None
    before = _last_before(flight, own, notes)
    typed = cells or {}

    def value(column: str, kept: Any) -> str:
        return typed.get(column, written_plain(kept))

    left = charges_left(book, known, recent, notes)
    roles = list(dict.fromkeys([*flight.instances("pack"), *note.packs, *note.readings]))
    places = tuple(
        Place(
            role=role,
            packs=tuple(Choice(n, left.get(n, ""), known.packs[n].role) for n in _fitting(role, known)),
            fitted=typed.get(f"pack_{role}", note.packs.get(role, "")),
            readings=tuple(
                (c := column.format(role), key, value(c, getattr(note.readings.get(role), key, None)), unit)
                for column, key, unit in READINGS
            ),
            likely=before.packs.get(role, "") if not note.packs else "",
        )
        for role in roles
    )
    tanks = list(dict.fromkeys([*(t.name for t in (aircraft.tanks if aircraft else ())), *flight.instances("fuel")]))
    fuel = [
        (
            tank,
            value(f"fuel_before_{tank}_ml", (n := note.fuel.get(tank)) and n.before_ml),
            value(f"fuel_put_in_{tank}_ml", n and n.put_in_ml),
        )
        for tank in tanks
    ]
    return shown(
        request, "note.html", status, flight=flight, places=places, fuel=fuel,
        layouts=[x.name for x in aircraft.layouts] if aircraft else [], layout=typed.get("layout", note.layout),
        usual_layout=before.layout, temperature=value("air_temperature_c", note.air_temperature_c),
        pilot=[(k, value(k, getattr(note, k))) for k in PILOT],
        remarks=typed.get("remarks", note.remarks), aircraft=flight.aircraft, known=sorted(known.aircraft),
        mark=mark_of(note), problem=problem, theirs=theirs, snag=typed.get("snag", ""),
        here="flights",
    )  # fmt: skip


def written_plain(kept: Any) -> str:
    """A noted value as a form shows it, without loss: cell readings with a stroke between them."""
    if kept in (None, "", ()):
        return ""
    if isinstance(kept, tuple):
        return "/".join(map(written_plain, kept))
    return f"{kept:.12g}" if isinstance(kept, float | int) else str(kept)


NEWEST = 60
"""Flights looked through for where a pack was last: one that sat longer has rested too long to tell."""


def charges_left(
    book: Logbook, known: Register, recent: Sequence[Flight], notes: Mapping[str, FlightNote]
) -> dict[str, str]:
    """What is left in each pack after its last noted flight, in words, as far as results tell; newest flight first."""
    from analyser.flight import FlightResult
    from spooldown.work import kept

    results: dict[str, FlightResult | None] = {}
    out: dict[str, str] = {}
    for flight in recent:
        note = notes.get(flight.flight_id)
        for role, name in note.packs.items() if note else ():
            if name in out or name not in known.packs:
                continue
            reading = note.readings.get(role) if note else None
            if reading is not None and reading.charged_mah is not None:
                out[name] = message("desk.note.charged_since")
                continue
            if flight.flight_id not in results:
                results[flight.flight_id] = kept.last(book.cache_folder, flight.flight_id, FlightResult)
            result = results[flight.flight_id]
            found = next((p for p in result.packs.packs if p.name == role), None) if result else None
            after = found.state.after_percent if found else None
            out[name] = message("desk.note.left", left=after, day=flight.day) if after and after.value else ""
    return out


def _fitting(role: str, known: Register) -> tuple[str, ...]:
    """Packs for a place: those meant for it first."""
    return tuple(sorted(known.packs, key=lambda name: (known.packs[name].role != role, name)))


def _last_before(flight: Flight, own: Sequence[Flight], notes: Mapping[str, FlightNote]) -> FlightNote:
    """What was noted of the same aircraft's flight before; its flights come newest first."""
    ids = [f.flight_id for f in own]
    earlier = ids[ids.index(flight.flight_id) + 1 :] if flight.flight_id in ids else ids
    return next((notes[i] for i in earlier if i in notes), FlightNote())


def mark_of(note: FlightNote) -> str:
    """Digest of a note: tells whether somebody else changed it meanwhile."""
    return hashlib.sha256(to_bytes(note, sort=True)).hexdigest()[:16]


def label_of(column: str) -> str:
    """What a field of the form is called in the reader's words."""
    pattern, name = pattern_of(column)
    if pattern.startswith("fuel_"):
        words = message("desk.note.before" if pattern.startswith("fuel_before") else "desk.note.put_in")
        return f"{message('desk.note.tank', tank=name)}, {words}"
    place = message("desk.note.pack", role=name.replace("_", " "))
    if pattern == "pack_<role>":
        return place
    if pattern:
        return f"{place}, {message(f'desk.note.reading.{PATTERNS[pattern][1]}')}"
    plain = {"air_temperature_c": "temperature"}.get(column, column)
    return message(f"desk.note.{plain}") if has(f"desk.note.{plain}") else column.replace("_", " ")


class _Slip:
    """Words what is wrong with a field by its label."""

    def refuse(self, column: str, code: Refused, **values: Any) -> Problem:
        """Say what is wrong with a value."""
        found, expected = say(f"{code}.found", **values), say(f"{code}.expected", **values)
        return UsageProblem(
            "usage.option_wants", option=label_of(column), found=found, expected=expected
        )  # fmt: skip

    def refuse_name(self, column: str, kind: str, word: str, known: Sequence[str], remedy: Text) -> Problem:
        """Say that a name is none of the known ones."""
        why = not_found(kind, word, known, remedy=remedy).finding
        return UsageProblem("problem.of_option", option=label_of(column), why=why)


async def save_note(request: Request) -> Response:
    """Keep the form; one saved over newer data shows both."""
    form = await form_of(request)
    cells = {k: v[-1].strip() for k, v in form.items() if v[-1].strip()}
    mark, owner = cells.pop("mark", ""), cells.pop("aircraft", "")
    over = cells.pop("over", "")
    return await run_in_threadpool(_save, request, cells, frozenset(form), mark, owner, over)


def _snag_of(flight: Flight, owner: str, title: str) -> Snag:
    """What was seen wrong in a flight, as its aircraft's snag."""
    from analyser.programme.snags import Came, Snag

    if not owner:
        raise UsageProblem("problem.snag_of_nobody")
    return Snag(0, owner, "", "", title, flight.day or date.today(), Came.HAND, flight.flight_id)


def _save(request: Request, cells: dict[str, str], sent: Collection[str], mark: str, owner: str, over: str) -> Response:
    from spooldown.programme import snags

    desk, flight_id = desk_of(request), request.path_params["flight"]
    with desk.book() as book:
        flight = book.flight(flight_id)
        known = register.load(book)
        was_owner, title = flight.aircraft, cells.pop("snag", "")
        try:
            found = snags.checked(_snag_of(flight, owner or flight.aircraft, title)) if title else None
            newer = note_of(cells, flight, owner or flight.aircraft, known, _Slip())
        except Problem as problem:
            return _form(request, book, flight_id, status=422, problem=str(problem), cells={**cells, "snag": title})
        except ValueError as error:
            return _form(request, book, flight_id, status=422, problem=f"{error}", cells=cells)
        # The reader looks and the writer writes in one transaction: nothing slips in between.
        with book.writing():
            if book.spoilt_notes({flight_id}):  # what can still be mended is not written over
                return _form(request, book, flight_id, status=409, cells={**cells, "snag": title})
            old = book.notes({flight_id}).get(flight_id, FlightNote())
            if mark and mark != mark_of(old) and mark != over:
                return _form(request, book, flight_id, status=409, cells={**cells, "snag": title}, theirs=old)
            if owner and owner != was_owner:
                book.assign([flight_id], owner)
            # The form shows everything there is of these fields: what is empty now was taken out.
            book.set_notes({flight_id: _kept_beside(old, newer, sent)})
            now = book.notes({flight_id}).get(flight_id), book.flight(flight_id).aircraft
            with changing(book, snags.KIND) as snagged:
                if found:
                    snags.add(book, found)

    def back() -> None:
        with desk.book() as book, book.writing():
            unless((book.notes({flight_id}).get(flight_id), book.flight(flight_id).aircraft) != now)
            snagged.put_back(book)
            book.set_notes({flight_id: old})
            book.assign([flight_id], was_owner)
        build_pages(desk)

    desk.undo.keep(request.state.key, Change(back, f"/flights/{flight_id}/note"))
    build_pages(desk)
    return to(f"/flights/{flight_id}/note")


def _kept_beside(old: FlightNote, newer: FlightNote, sent: Collection[str]) -> FlightNote:
    """The form's note; of what the form did not hold, what was there."""
    readings: dict[str, PackNote] = {}
    for role in {**old.readings, **newer.readings}:
        before, now = old.readings.get(role, PackNote()), newer.readings.get(role, PackNote())
        kept = {key: getattr(before, key) for column, key, _ in READINGS if column.format(role) not in sent}
        readings[role] = replace(now, **kept)
    pilot = {key: getattr(old, key) for key in PILOT if key not in sent}
    return replace(newer, readings={k: v for k, v in readings.items() if v != PackNote()}, **pilot)


ROUTES = [
    Route("/flights", flights),
    Route("/flights/{flight}/note", note_page),
    Route("/flights/{flight}/note", save_note, methods=["POST"]),
]

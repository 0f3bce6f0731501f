"""One bench procedure as a person types it, or as a log shows it, checked before it is kept."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from msgspec import Struct, field

from analyser.bench.procedures import PROCEDURES, BadReading, BenchRecord, BenchTrace, Of, Procedure, Reading
from analyser.core.telemetry import Telemetry
from reports.words.catalogue import message, text, word
from spooldown.problems import UsageProblem, nearest, not_found
from spooldown.register import Register
from spooldown.sheets.rows import number


class Typed(Struct, frozen=True):
    """What was typed: words by the names of readings and choices, and the rest."""

    procedure: Procedure
    aircraft: str = ""
    subject: str = ""
    day: str = ""
    words: Mapping[str, str] = field(default_factory=dict)
    remarks: str = ""


def procedure_named(said: str) -> Procedure:
    """Look a procedure up by its name.

    Raises
    ------
    NotFoundProblem
        With the nearest name there is.
    """
    found = next((p for p in Procedure if p.value == said.casefold().replace(" ", "-").replace("_", "-")), None)
    if found is None:
        raise not_found("procedure", said, [p.value for p in Procedure], remedy="remedy.bench_guide")
    return found


def subjects(procedure: Procedure, register: Register, aircraft: str) -> list[str]:
    """Names that the procedure can be about: the tanks, engines or packs that are registered."""
    known = register.find_aircraft(aircraft) if aircraft else None
    match PROCEDURES[procedure].of:
        case Of.TANK:
            return [t.name for t in known.tanks] if known else []
        case Of.ENGINE:
            return [e.name for e in known.engines] if known else []
        case Of.PACK:
            own = [f for f in register.files.values() if known is None or f.aircraft in (None, known)]
            return [p.name for f in own for p in f.packs]
        case Of.AIRCRAFT:
            return []


def record_of(typed: Typed, register: Register, telemetry: Telemetry | None = None, log: str = "") -> BenchRecord:
    """Check what was typed, and take from the log what was not.

    Parameters
    ----------
    typed : Typed
        Words as typed; a number typed comes before the log's.
    register : Register
        Aircraft and packs as registered.
    telemetry : Telemetry, optional
        The log that was recorded meanwhile, read.
    log : str
        Its name.

    Raises
    ------
    UsageProblem, NotFoundProblem
        One sentence on the first thing that is wrong; nothing is kept then.
    """
    steps = PROCEDURES[typed.procedure]
    known = register.find_aircraft(typed.aircraft) if typed.aircraft else None
    if typed.aircraft and known is None and register.aircraft:
        raise not_found("aircraft", typed.aircraft, register.aircraft, remedy="remedy.register")
    if not typed.aircraft and steps.of is not Of.PACK:
        raise UsageProblem(message("bench_says.whose"))
    subject = _subject(typed, register)
    values: dict[str, tuple[float, ...]] = {}
    others: tuple[str, ...] = ()
    missing: Sequence[str] = ()
    traces: tuple[BenchTrace, ...] = ()
    if telemetry is not None:
        from analyser.bench.reading import read_log, thin_traces

        place = register.packs[subject].role if steps.of is Of.PACK and subject in register.packs else ""
        found, others, lacking = read_log(typed.procedure, place or subject, telemetry, known)
        traces = thin_traces(typed.procedure, telemetry)
        values, missing = dict(found), [text(m) for m in lacking]
    choices = {}
    for name, said in typed.words.items():
        if not said.strip():
            continue
        if reading := steps.reading(name):
            values[name] = _numbers(reading, said)
        elif any(c.name == name for c in steps.choices):
            choices[name] = _choice(typed.procedure, name, said)
        else:
            among = [r.name for r in steps.readings] + [c.name for c in steps.choices]
            raise UsageProblem(
                message(
                    "bench_says.no_reading",
                    name=name,
                    procedure=typed.procedure.value,
                    nearest=nearest(name, among),
                    among=", ".join(among),
                )
            )
    if telemetry is not None and typed.procedure is Procedure.PLUGS and "moved" not in choices:
        choices["moved"] = "nothing" if others == ("",) else "others" if others else "its own"
    others = tuple(o for o in others if o)
    try:
        return BenchRecord(
            procedure=typed.procedure,
            day=_day(typed.day),
            aircraft=known.name if known else typed.aircraft,
            subject=subject,
            values=values,
            choices=choices,
            others=others,
            remarks=typed.remarks.strip(),
            log=log,
            read=tuple(n for n in values if telemetry is not None and not typed.words.get(n, "").strip()),
            traces=traces,
        )
    except BadReading as error:
        raise UsageProblem(_said(error, steps.reading(error.name), missing)) from error


def _subject(typed: Typed, register: Register) -> str:
    steps = PROCEDURES[typed.procedure]
    if steps.of is Of.AIRCRAFT:
        return ""
    among = subjects(typed.procedure, register, typed.aircraft)
    said = typed.subject.strip()
    if not said and len(among) == 1:
        return among[0]
    if not said:
        raise UsageProblem(
            message("bench_says.of_what", of=word("bench_of", steps.of.value), among=", ".join(among))
        )  # fmt: skip
    found = next((n for n in among if n.casefold() == said.casefold()), None)
    if found is None and among:
        raise not_found(steps.of.value, said, among, remedy="remedy.in_aircraft_file")
    return found or said


def _day(said: str) -> date:
    if not said.strip():
        return date.today()
    try:
        day = date.fromisoformat(said.strip())
    except ValueError:
        raise UsageProblem(message("bench_says.day", said=said)) from None
    if day > date.today() + timedelta(days=1):
        raise UsageProblem(message("bench_says.future", said=said))
    return day


def _numbers(reading: Reading, said: str) -> tuple[float, ...]:
    """One number, or one for each cell with blanks or semicolons between."""
    words = said.replace(";", " ").split() if reading.by_cell else [said.strip()]
    numbers = tuple(number(w, three_decimals=reading.unit not in ("mL", "mAh", "rpm")) for w in words)
    if not numbers or any(math.isnan(n) for n in numbers):
        name = word("bench_reading", reading.name)
        raise UsageProblem(message("bench_says.number", name=name, said=said, unit=reading.unit))
    return numbers


def _choice(procedure: Procedure, name: str, said: str) -> str:
    """A word from the list, in the reader's language or as it is kept."""
    choice = next(c for c in PROCEDURES[procedure].choices if c.name == name)
    words = {w.casefold(): w for w in choice.among} | {word("bench_seen", w).casefold(): w for w in choice.among}
    found = words.get(said.strip().casefold())
    if found is None:
        among = ", ".join(word("bench_seen", w) for w in choice.among)
        raise UsageProblem(message("bench_says.choice", name=word("bench_choice", name), said=said, among=among))
    return found


def _said(error: BadReading, reading: Reading | None, missing: Sequence[str]) -> str:
    name = word("bench_reading", error.name) if reading else word("bench_choice", error.name)
    low, high, unit = (reading.low, reading.high, reading.unit) if reading else (0.0, 0.0, "")
    return message(
        "bench_says.bad", name=name, fault=word("bench_fault", error.fault), number=error.number, low=low, high=high,
        unit=unit, missing="; ".join(missing),
    )  # fmt: skip

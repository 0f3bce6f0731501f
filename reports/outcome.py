"""One line a subject: how the flight went, put together from figures and events the analyser already has."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from analyser.core.events import Event, Level
from analyser.core.figures import Figure
from analyser.flight import FlightResult
from analyser.record import FlightRecord
from reports.called import Called, called
from reports.render import number, quantity, span
from reports.words import group_of, kind_words, lower_first, plural, upper_first
from reports.words.catalogue import text as worded


@dataclass(frozen=True, slots=True)
class Outcome:
    """How one subject went: a headline for the first look, a sentence for the second.

    ``level`` is ``None`` where the log says nothing of it; ``at_s`` is the moment of the gravest event that asks
    for attention.
    """

    subject: str
    level: Level | None
    sentence: str
    anchor: str
    headline: str = ""
    at_s: float | None = None


def worst(events: Iterable[Event]) -> Level:
    """The highest level among events; fine where there are none."""
    return max((e.level for e in events), default=Level.FINE)


def outcomes(record: FlightRecord) -> tuple[Outcome, ...]:
    """How the flight went: fuel, packs, radio link, engines, data."""
    result = record.result
    events = tuple(result.events())
    own = called(record.context)
    told = (
        ("Fuel", "fuel", _fuel(result), _fuel_fact(result), result.fuel.tanks),
        ("Packs", "packs", _packs(result), _pack_fact(result), result.packs.packs),
        ("Radio link", "link", _link(result), _link_fact(result), result.link.receivers),
        ("Engines", "engines", _engines(result, own), _engine_fact(result), result.turbine.engines),
    )
    return (
        *(
            _outcome(name, anchor, [e for e in events if group_of(e.subject) == name], own, parts, fact, bool(known))
            for name, anchor, parts, fact, known in told
        ),
        _data(result),
    )


def level_of(record: FlightRecord) -> Level:
    """The highest level of anything in a flight."""
    return worst(record.result.events())


def _outcome(
    subject: str, anchor: str, events: list[Event], own: Called, parts: list[str], fact: str, known: bool
) -> Outcome:
    if not known and not events:
        return Outcome(subject, None, "Nothing about it in this log.", anchor, "nothing in this log")
    told = own.sentence(_told(events))
    sentence = " ".join([*parts, *([told] if told else [])]) or "No events."
    headline = "; ".join(t for t in (_counted(events, own), fact) if t) or "no events"
    first = _gravest([e for e in events if e.level >= Level.WATCH])
    return Outcome(
        subject, worst(events), sentence, anchor, upper_first(headline), first.start_s if first is not None else None
    )


def _gravest(events: list[Event]) -> Event | None:
    """The first of those with the highest level."""
    return max(events, key=lambda e: (e.level, -e.start_s), default=None)


def _counted(events: list[Event], own: Called) -> str:
    """The kinds of event that weigh most, each with its count, or with whose it was where all are of one thing."""
    kinds: dict[str, list[Event]] = {}
    for event in events:
        if event.level >= Level.NOTE:
            kinds.setdefault(event.kind, []).append(event)
    ranked = sorted(kinds.values(), key=lambda es: (-worst(es), -len(es)))
    if not ranked:
        return ""
    heavy = [es for es in ranked if worst(es) >= Level.WATCH][:2] or ranked[:1]
    out: list[str] = []
    for es in heavy:
        subjects = list(dict.fromkeys(e.subject for e in es))
        name = kind_words(es[0].kind)
        name = name if not out else lower_first(name)
        if len(subjects) == 1:
            whose = own.subject(subjects[0]).partition(" (")[0]
            name += f" of the {lower_first(whose)}" if len(es) == 1 else f" × {len(es)}, {whose}"
        else:
            name += f" × {len(es)}"
        out.append(name)
    return ", ".join(out)


def _told(events: list[Event]) -> str:
    """The worst event in its own words, and how many more there were."""
    heavy = [e for e in events if e.level >= Level.NOTE]
    first = _gravest(heavy)
    if first is None:
        return ""
    same = sum(e.kind == first.kind for e in heavy) - 1
    rest = len(heavy) - 1 - same
    text = worded(first.summary).rstrip(".") + "."
    more = [f"{same} more of this kind"] if same else []
    more += [f"{plural(rest, 'other event')}"] if rest else []
    return f"{text} {' and '.join(more).capitalize()}." if more else text


def _fuel_fact(result: FlightResult) -> str:
    margins = [t.margin_ml for t in result.fuel.tanks if t.margin_ml.value is not None]
    if margins:
        least = min(margins, key=lambda f: f.value or 0.0)
        side = "above" if (least.value or 0.0) >= 0 else "below"
        return f"landed {quantity(least).lstrip('−')} {side} the reserve"
    return _say(result.fuel.burned_ml, "burned ") or ""


def _pack_fact(result: FlightResult) -> str:
    cells = [p for p in result.packs.packs if p.min_cell_v.value is not None]
    if cells:
        least = min(cells, key=lambda p: p.min_cell_v.value or 0.0)
        return f"lowest cell {quantity(least.min_cell_v)}, {least.pack or _name(least)}"
    known = [p for p in result.packs.packs if p.min_voltage_v.value is not None]
    if not known:
        return ""
    lowest = min(known, key=lambda p: p.min_voltage_v.value or 0.0)
    return f"lowest {quantity(lowest.min_voltage_v)}, {lowest.pack or _name(lowest)}"


def _link_fact(result: FlightResult) -> str:
    failsafe = sum(r.failsafe_s.value or 0.0 for r in result.link.receivers)
    if failsafe > 0:
        return f"failsafe for {span(failsafe)}"
    lost = [r.lost_frames.value for r in result.link.receivers if r.lost_frames.value is not None]
    if lost:
        return (
            ("1 lost frame" if sum(lost) == 1 else f"{number(sum(lost), 0)} lost frames")
            if sum(lost)
            else "no lost frames"
        )
    fades = [a.fades.value for r in result.link.receivers for a in r.antennas if a.fades.value is not None]
    return plural(int(sum(fades)), "fade") if fades else ""


def _engine_fact(result: FlightResult) -> str:
    hot = [e.max_egt_c for e in result.turbine.engines if e.max_egt_c.value is not None]
    if hot:
        return f"hottest {quantity(max(hot, key=lambda f: f.value or 0.0))}"
    run = [e.run_min for e in result.turbine.engines if e.run_min.value is not None]
    return f"ran {quantity(max(run, key=lambda f: f.value or 0.0))}" if run else ""


class _Named(Protocol):
    @property
    def name(self) -> str: ...


def _name(thing: _Named) -> str:
    return thing.name.replace("_", " ")


def _say(figure: Figure, before: str = "", after: str = "") -> str | None:
    return f"{before}{quantity(figure)}{after}" if figure.value is not None else None


def _fuel(result: FlightResult) -> list[str]:
    fuel = result.fuel
    parts: list[str] = []
    if (burned := _say(fuel.burned_ml, "Burned ")) is not None:
        sides = [f"{_name(t)} {quantity(t.burned_ml)}" for t in fuel.tanks if t.burned_ml.value is not None]
        parts.append(burned + (f" ({', '.join(sides)})" if len(sides) > 1 else "") + ".")
    margins = [t for t in fuel.tanks if t.margin_ml.value is not None]
    if margins:
        least = min(margins, key=lambda t: t.margin_ml.value or 0.0)
        value = least.margin_ml.value or 0.0
        where = f" in the {_name(least)} tank" if len(fuel.tanks) > 1 else ""
        amount = quantity(least.margin_ml).lstrip("−")
        parts.append(f"Landed {amount} {'above' if value >= 0 else 'below'} the reserve{where}.")
    else:
        lefts = [
            f"{_name(t)} {quantity(t.left_at_landing_ml)}" for t in fuel.tanks if t.left_at_landing_ml.value is not None
        ]
        if lefts:
            parts.append(f"Left at landing: {', '.join(lefts)}.")
    return parts


def _packs(result: FlightResult) -> list[str]:
    packs = [p for p in result.packs.packs if p.min_voltage_v.value is not None]
    if not packs:
        return [f"{plural(len(result.packs.packs), 'pack')} in the log."] if result.packs.packs else []
    names = [f"{p.pack or _name(p)} {quantity(p.min_voltage_v)}" for p in packs]
    return [f"Lowest voltage: {', '.join(names)}."]


def _link(result: FlightResult) -> list[str]:
    parts: list[str] = []
    fades = [a.fades.value for r in result.link.receivers for a in r.antennas if a.fades.value is not None]
    if fades:
        parts.append("No fades." if sum(fades) == 0 else f"{plural(int(sum(fades)), 'fade')} over all antennas.")
    lost = [f"{_name(r)} {quantity(r.lost_frames)}" for r in result.link.receivers if r.lost_frames.value is not None]
    if lost:
        parts.append(f"Lost frames: {', '.join(lost)}.")
    failsafe = [r.failsafe_s for r in result.link.receivers if r.failsafe_s.value]
    parts += [f"Failsafe for {quantity(f)}." for f in failsafe]
    return parts


def _engines(result: FlightResult, own: Called) -> list[str]:
    parts: list[str] = []
    for engine in result.turbine.engines:
        bits = []
        if engine.starts:
            failed = sum(not s.succeeded for s in engine.starts)
            bits.append(plural(len(engine.starts), "start") + (f", {failed} failed" if failed else ""))
        if (run := _say(engine.run_min, "ran ")) is not None:
            bits.append(run)
        if (hot := _say(engine.max_egt_c, "hottest ")) is not None:
            bits.append(hot)
        if bits:
            parts.append(f"{own.subject(f'engine.{engine.name}')}: {', '.join(bits)}.")
    return parts


def _data(result: FlightResult) -> Outcome:
    excluded = [s for s in result.suspects if s.excluded]
    channels = len({s.channel for s in excluded})
    gaps = len(result.missing())
    if not result.suspects:
        text, level = "no doubtful samples.", Level.FINE
    else:
        kinds = ", ".join(sorted({kind_words(s.kind).lower() for s in result.suspects}))
        if excluded:
            samples = sum(s.samples for s in excluded)
            text = f"{plural(samples, 'doubtful sample')} of {plural(channels, 'channel')} left out ({kinds})."
        else:
            text = f"{plural(len(result.suspects), 'doubtful span')} ({kinds}), none left out."
        level = Level.NOTE
    headline = (
        f"{plural(sum(s.samples for s in excluded), 'doubtful sample')} left out" if excluded else text.rstrip(".")
    )
    if gaps:
        text += f" {plural(gaps, 'thing')} not in this log or its notes."
        headline += f"; {plural(gaps, 'thing')} missing"
    return Outcome("Data", level, upper_first(text), "data", upper_first(headline))

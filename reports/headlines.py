"""One line a subject: how the flight went, put together from figures and events the analyser already has."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from msgspec import Struct
from msgspec.structs import replace

from analyser.core.events import Event, Level
from analyser.core.figures import Figure
from analyser.core.findings import Part
from analyser.core.levels import COMMON_PRACTICE
from analyser.flight import FlightResult
from analyser.record import FlightRecord
from analyser.sense import believable
from reports.words.catalogue import joined, listed, lower_first, message, quantity, upper_first
from reports.words.names import brief, heading, said
from reports.words.times import span
from reports.words.vocabulary import group_of, group_word, kind_words

SUBJECTS: tuple[tuple[str, str], ...] = (("fuel", "fuel"), ("pack", "packs"), ("link", "link"), ("engine", "turbine"))
"""Each subject with the field of a flight's result that holds it."""


class Headline(Struct, frozen=True):
    """How one subject went: a headline for the first look, a sentence for the second.

    ``group`` is the subject's key and the anchor of its section; ``level`` is ``None`` where the log says nothing of
    it; ``at_s`` is the moment of the gravest event that asks for attention.
    """

    group: str
    level: Level | None
    sentence: str
    headline: str = ""
    at_s: float | None = None

    @property
    def anchor(self) -> str:
        """Where the subject stands on the flight's page."""
        return anchor_of(self.group)

    @property
    def subject(self) -> str:
        """The subject's word."""
        return group_word(self.group)


def anchor_of(group: str) -> str:
    """Where a subject stands on the flight's page."""
    return {"pack": "packs", "engine": "engines"}.get(group, group)


def worst(events: Iterable[Event]) -> Level:
    """The highest level among events; fine where there are none."""
    return max((e.level for e in events), default=Level.FINE)


def headlines(record: FlightRecord) -> tuple[Headline, ...]:
    """How the flight went: fuel, packs, radio link, engines, data."""
    result = record.result
    events = tuple(result.events())
    made = (
        ("fuel", _fuel(result), _fuel_fact(result), result.fuel.tanks),
        ("pack", _packs(result), _pack_fact(result), result.packs.packs),
        ("link", _link(result), _link_fact(result), result.link.receivers),
        ("engine", _engines(result), _engine_fact(result), result.turbine.engines),
    )
    lines = [
        _headline(group, [e for e in events if group_of(e.subject) == group], parts, fact, bool(known))
        for group, parts, fact, known in made
    ]
    lines[0] = _judged(lines[0], result)
    return (*lines, _data(result))


def level_of(record: FlightRecord) -> Level:
    """The highest level of anything in a flight."""
    return worst(record.result.events())


def _headline(group: str, events: list[Event], parts: list[str], fact: str, known: bool) -> Headline:
    if not known and not events:
        return Headline(group, None, message("headline.nothing_sentence"), message("headline.nothing"))
    summary = _summary(events)
    sentence = " ".join([*parts, *([summary] if summary else [])]) or message("headline.no_events_sentence")
    headline = "; ".join(t for t in (_counted(events), fact) if t) or message("headline.no_events")
    first = _gravest([e for e in events if e.level >= Level.WATCH])
    return Headline(group, worst(events), sentence, upper_first(headline), first.start_s if first is not None else None)


def _judged(fuel: Headline, result: FlightResult) -> Headline:
    """Fuel is fine only where every tank was held against its reserve."""
    tanks = result.fuel.tanks
    if fuel.level is not Level.FINE or all(t.margin.value is not None for t in tanks):
        return fuel
    open_ones = [t for t in tanks if t.margin.value is None]
    why = message("headline.no_reserve" if all(t.left.value is not None for t in open_ones) else "headline.no_left")
    return replace(
        fuel,
        level=Level.CANT_TELL,
        sentence=f"{fuel.sentence} {upper_first(why)}.",
        headline=f"{fuel.headline}; {why}",
    )


def _gravest(events: list[Event]) -> Event | None:
    """The first of those with the highest level."""
    return max(events, key=lambda e: (e.level, -e.start_s), default=None)


def _counted(events: list[Event]) -> str:
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
        name = kind_words(es[0].kind)
        name = name if not out else lower_first(name)
        alone = len({e.subject for e in es}) == 1
        whose = brief(es[0].subject) if alone else ""
        out.append(message("headline.counted", kind=name, whose=whose, times=len(es)))
    return ", ".join(out)


def _summary(events: list[Event]) -> str:
    """The worst event in its own words, and how many more there were."""
    heavy = [e for e in events if e.level >= Level.NOTE]
    first = _gravest(heavy)
    if first is None:
        return ""
    same = sum(e.kind == first.kind for e in heavy) - 1
    rest = len(heavy) - 1 - same
    words = said(first.summary).rstrip(".") + "."
    if same or rest:
        words += " " + upper_first(message("headline.more", same=same, rest=rest))
    return words


def _known(figures: Sequence[Figure]) -> list[Figure]:
    return [f for f in figures if believable(f) is not None]


def _value(figure: Figure) -> float:
    return figure.value or 0.0


def _fuel_fact(result: FlightResult) -> str:
    margins = _known([t.margin for t in result.fuel.tanks])
    if margins:
        least = min(margins, key=_value)
        return message("headline.landed", margin=least, above=_value(least) >= 0)
    burned = result.fuel.burned
    return message("headline.burned", burned=burned) if believable(burned) is not None else ""


def _pack_fact(result: FlightResult) -> str:
    cells = [p for p in result.packs.packs if believable(p.voltage.lowest_cell_v) is not None]
    if cells:
        least = min(cells, key=lambda p: _value(p.voltage.lowest_cell_v))
        return message(
            "headline.lowest_cell", lowest=least.voltage.lowest_cell_v, pack=least.pack or brief(f"pack.{least.name}")
        )
    known = [p for p in result.packs.packs if believable(p.voltage.lowest_v) is not None]
    if not known:
        return ""
    low = min(known, key=lambda p: _value(p.voltage.lowest_v))
    return message("headline.lowest_pack", lowest=low.voltage.lowest_v, pack=low.pack or brief(f"pack.{low.name}"))


def _link_fact(result: FlightResult) -> str:
    failsafe = sum(_value(r.failsafe_s) for r in result.link.receivers)
    if failsafe > 0:
        return message("headline.failsafe", span=span(failsafe))
    missed = _known([r.lost_frames for r in result.link.receivers])
    frames = int(sum(map(_value, missed)))
    if missed and (frames or not any(e.kind == "lost_frames" for e in result.events())):
        return message("headline.missed", frames=frames)
    fades = _known([a.fades for r in result.link.receivers for a in r.antennas])
    return message("headline.fades", fades=int(sum(map(_value, fades)))) if fades else ""


def _engine_fact(result: FlightResult) -> str:
    hot = _known([e.max_egt_c for e in result.turbine.engines])
    if hot:
        return message("headline.hottest", egt=max(hot, key=_value))
    run = _known([e.run_min for e in result.turbine.engines])
    return message("headline.ran", run=max(run, key=_value)) if run else ""


def _each(pairs: Iterable[tuple[str, Figure]]) -> list[str]:
    return [f"{name} {quantity(figure)}" for name, figure in pairs if believable(figure) is not None]


def _fuel(result: FlightResult) -> list[str]:
    fuel = result.fuel
    parts: list[str] = []
    if believable(fuel.burned) is not None:
        sides = _each((brief(f"fuel.{t.name}"), t.burned) for t in fuel.tanks)
        sides = sides if len(sides) > 1 else []
        parts.append(message("headline.burned_sentence", burned=fuel.burned, sides=joined(sides, ", ")))
    margins = [t for t in fuel.tanks if believable(t.margin) is not None]
    if margins:
        least = min(margins, key=lambda t: _value(t.margin))
        above = _value(least.margin) >= 0
        tank = Part(f"fuel.{least.name}") if len(fuel.tanks) > 1 else ""
        parts.append(message("headline.landed_sentence", margin=least.margin, above=above, tank=tank))
    else:
        lefts = _each((brief(f"fuel.{t.name}"), t.left) for t in fuel.tanks)
        if lefts:
            parts.append(message("headline.left_sentence", sides=joined(lefts, ", ")))
    return parts


def _packs(result: FlightResult) -> list[str]:
    names = _each((p.pack or brief(f"pack.{p.name}"), p.voltage.lowest_v) for p in result.packs.packs)
    if names:
        return [message("headline.lowest_sentence", packs=joined(names, ", "))]
    count = len(result.packs.packs)
    return [message("headline.packs_sentence", packs=count)] if count else []


def _link(result: FlightResult) -> list[str]:
    parts: list[str] = []
    fades = _known([a.fades for r in result.link.receivers for a in r.antennas])
    if fades:
        parts.append(message("headline.fades_sentence", fades=int(sum(map(_value, fades)))))
    missed = _each((brief(f"link.{r.name}"), r.lost_frames) for r in result.link.receivers)
    if missed:
        parts.append(message("headline.missed_sentence", receivers=joined(missed, ", ")))
    parts += [
        message("headline.failsafe_sentence", s=r.failsafe_s) for r in result.link.receivers if r.failsafe_s.value
    ]
    return parts


def _engines(result: FlightResult) -> list[str]:
    parts: list[str] = []
    for engine in result.turbine.engines:
        bits = []
        if engine.starts:
            failed = sum(not s.succeeded for s in engine.starts)
            bits.append(message("headline.starts", starts=len(engine.starts), failed=failed))
        if engine.run_min.value is not None:
            bits.append(message("headline.ran", run=engine.run_min))
        if engine.max_egt_c.value is not None:
            bits.append(message("headline.hottest", egt=engine.max_egt_c))
        if bits:
            parts.append(f"{heading(f'engine.{engine.name}')}: {', '.join(bits)}.")
    return parts


def _data(result: FlightResult) -> Headline:
    excluded = [s for s in result.suspects if s.excluded]
    gaps = len(result.missing())
    kinds = listed(sorted({lower_first(kind_words(s.kind)) for s in result.suspects}))
    values = {
        "samples": sum(s.samples for s in excluded),
        "channels": len({s.channel for s in excluded}),
        "spans": len(result.suspects),
        "kinds": kinds,
        "missing": gaps,
    }
    level = COMMON_PRACTICE.matter("doubtful_spans") if result.suspects else Level.FINE
    return Headline(
        "data",
        level,
        upper_first(message("headline.data_sentence", **values)),
        upper_first(message("headline.data", **values)),
    )

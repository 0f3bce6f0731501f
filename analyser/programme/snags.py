"""Snags and their remedies: what was wrong with a thing, what was done about it, and whether that worked.

A snag is of an aircraft, a pack, an engine, an antenna or any other part. Where it names a figure, each remedy is
judged by flights before it and after it; those before are the ones since the snag began or the last remedy was tried.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from enum import StrEnum

import numpy as np
import numpy.typing as npt
from msgspec import Struct, field
from msgspec.structs import replace

from analyser.core.events import Event
from analyser.programme.histories import Flown, History
from analyser.programme.remedies import Comparison, compare
from analyser.programme.steps import StepFound

BEFORE = 30
"""So many flights before a remedy at most are what it is judged against."""


class Came(StrEnum):
    """What a snag was made from."""

    HAND = "hand"
    EVENT = "event"
    REMARK = "remark"
    STEP = "step"


class Remedy(Struct, frozen=True):
    """What was done about a snag; ``day`` and the first flight after it, '' where the day says it."""

    day: date
    what: str
    first_flight: str = ""


class Note(Struct, frozen=True):
    """A line of a snag's story."""

    day: date
    text: str


class Snag(Struct, frozen=True):
    """Something that is wrong, or was.

    Parameters
    ----------
    number : int
        As people call it: S7.
    aircraft : str
    part : str
        ``engine.left``, ``pack.rx2``, ``link.rx2.antenna2``; '' for the whole aircraft.
    thing : str
        The pack's own name, which it keeps in every aircraft; '' for everything else.
    title : str
        What is wrong, in the owner's words.
    day : date
        When it was seen.
    came : Came
        What it was made from; ``flight_id``, ``kind`` and ``at_s`` name the event or the flight.
    measure : str
        Id of the figure its remedies are judged by, '' where they are not.
    worth : float or None
        The least change for the better that counts, in the figure's unit.
    since : str
        The first flight with it, '' where nobody knows.
    remedies : tuple of Remedy
        Oldest first.
    story : tuple of Note
    closed : date or None
    """

    number: int
    aircraft: str
    part: str
    thing: str
    title: str
    day: date
    came: Came = Came.HAND
    flight_id: str = ""
    kind: str = ""
    at_s: float | None = None
    measure: str = ""
    worth: float | None = None
    since: str = ""
    remedies: tuple[Remedy, ...] = ()
    story: tuple[Note, ...] = ()
    closed: date | None = None

    @property
    def name(self) -> str:
        """S7."""
        return f"S{self.number}"

    @property
    def open(self) -> bool:
        """Whether it is still there."""
        return self.closed is None

    @property
    def key(self) -> tuple[str, str]:
        """The history its remedies are judged by."""
        return self.measure, self.thing or self.part

    def with_remedy(self, remedy: Remedy) -> Snag:
        """The same with a further remedy, in the order of their days."""
        return replace(self, remedies=tuple(sorted((*self.remedies, remedy), key=lambda r: r.day)))


FIGURE_OF_KIND: Mapping[tuple[str, str], str] = {
    ("sag", "pack"): "pack.deepest_sag",
    ("brown_out", "bus"): "bus.brown_outs",
    ("brown_out", "pack"): "pack.lowest_voltage",
    ("fade", "antenna"): "antenna.fades",
    ("low_margin", "antenna"): "antenna.lowest_margin",
    ("fade_together", "receiver"): "receiver.fades_together",
    ("lost_frames", "receiver"): "receiver.missed_frames_rate",
    ("lost_frames", "antenna"): "antenna.missed_packets_rate",
    ("failsafe", "receiver"): "receiver.failsafe",
    ("downlink_gap", "flight"): "flight.downlink_gaps",
    ("hot_start", "engine"): "engine.start_egt",
    ("failed_start", "engine"): "engine.failed_starts",
    ("over_temperature", "engine"): "engine.highest_egt",
    ("flame_out", "engine"): "engine.flame_outs",
    ("cool_down_cut", "engine"): "engine.cool_down",
    ("reserve_reached", "tank"): "tank.margin",
    ("reserve_near", "tank"): "tank.margin",
}
"""The figure that says whether a kind of event became rarer or milder, by what it happened to."""


def kind_of_part(part: str) -> str:
    """What sort of part a name is of, in the words of the list of measures: ``link.rx1.antenna2`` → ``antenna``."""
    head, _, rest = part.partition(".")
    if head == "link":
        return "antenna" if ".antenna" in rest else "receiver"
    return {"fuel": "tank", "engine": "engine", "pack": "pack", "bus": "bus"}.get(head, "flight")


def figure_of(event: Event) -> str:
    """Find the figure by which a remedy against an event is judged; '' where no figure says it."""
    return FIGURE_OF_KIND.get((event.kind, kind_of_part(event.subject)), "")


class Fared(Struct, frozen=True):
    """A remedy and how it fared; ``comparison`` is ``None`` where the snag names no figure that the flights hold.

    ``first_flight`` is the first flight after it, '' where there is none yet.
    """

    remedy: Remedy
    comparison: Comparison | None
    first_flight: str = ""


class SnagState(Struct, frozen=True):
    """A snag with how each of its remedies fared, oldest first."""

    snag: Snag
    fared: tuple[Fared, ...] = field(default=())


def fare(snag: Snag, past: Mapping[tuple[str, str], History], flights: Sequence[Flown]) -> SnagState:
    """Judge every remedy of a snag.

    Parameters
    ----------
    past : mapping
        Histories of the snag's aircraft; of a pack, of all flights it flew in.
    flights : sequence of Flown
        The same flights, oldest first: they say which was the first after a remedy's day.
    """
    history = past.get(snag.key) if snag.measure else None
    numbers = {f.flight_id: f.number for f in flights}
    starts = [_first_after(remedy, flights) for remedy in snag.remedies]
    ids = {float(f.number): f.flight_id for f in flights}
    if history is None:
        pairs = zip(snag.remedies, starts, strict=True)
        return SnagState(snag, tuple(Fared(r, None, ids.get(start, "")) for r, start in pairs))
    began = float(numbers.get(snag.since, -np.inf))
    out = []
    for k, remedy in enumerate(snag.remedies):
        until = starts[k + 1] if k + 1 < len(starts) else np.inf
        since = max([began, *starts[:k]])
        if since >= starts[k]:
            since = -np.inf
        inside = (history.numbers >= since) & (history.numbers < until)
        early = np.flatnonzero(inside & (history.numbers < starts[k]))[-BEFORE:]
        late = np.flatnonzero(inside & (history.numbers >= starts[k]))
        taken = _taken(history, np.r_[early, late])
        found = compare(taken, starts[k], worth=snag.worth)
        out.append(Fared(remedy, found, ids.get(starts[k], "")))
    return SnagState(snag, tuple(out))


def _taken(history: History, at: npt.NDArray[np.intp]) -> History:
    where = at.tolist()
    return replace(
        history, flight_ids=tuple(history.flight_ids[i] for i in where), numbers=history.numbers[where],
        days=tuple(history.days[i] for i in where), values=history.values[where],
    )  # fmt: skip


def _first_after(remedy: Remedy, flights: Sequence[Flown]) -> float:
    """Number of the first flight after a remedy: the one it names, else the first of its day or later."""
    for flight in flights:
        if flight.flight_id == remedy.first_flight:
            return float(flight.number)
    if remedy.first_flight:
        return np.inf
    later = [f.number for f in flights if f.day is not None and f.day >= remedy.day]
    return float(min(later, default=np.inf))


def offered(
    steps: Sequence[StepFound], snags: Sequence[Snag], flights: Sequence[Flown], put_aside: Sequence[str] = ()
) -> tuple[StepFound, ...]:
    """Choose the steps that are offered as snags: those that no snag and no remedy explains, and nobody put aside.

    Parameters
    ----------
    put_aside : sequence of str
        Names of steps (:func:`step_name`) that a person put aside.
    """
    numbers = {f.flight_id: f.number for f in flights}
    out = []
    for step in steps:
        of_same = [s for s in snags if (s.thing or s.part) in ("", step.key[1])]
        begun = [numbers[s.since] for s in of_same if s.measure == step.key[0] and s.since in numbers]
        done = [_first_after(r, flights) for s in of_same for r in s.remedies]
        if step_name(step) in put_aside or any(step.first <= n <= step.last for n in (*begun, *done)):
            continue
        out.append(step)
    return tuple(out)


def step_name(step: StepFound) -> str:
    """Name a step so that it is known again: figure, what it is of, and its flight."""
    return "|".join((*step.key, step.flight_id))

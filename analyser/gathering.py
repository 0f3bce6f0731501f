"""The events of one flight in a few lines: what asks for a person by itself, the rest gathered by kind, thing and side.

The page, the terminal and the export gather alike. Nothing is lost: every event stands in one of the lines.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from msgspec import Struct
from msgspec.structs import replace

from analyser.core.codes import CoreCode
from analyser.core.events import Event
from analyser.core.findings import Finding, Part, Text, say
from analyser.core.levels import Level

MOST_LINES = 8
"""Lines for what asks for nobody; rare sides are folded, then the antennas of a receiver, until there are no more."""
MOST_ALONE = 3
"""So many events of one kind and thing that ask for attention stand alone; of more only those that ask for an act."""
Placed = tuple[int, Event]
"""An event and its place among the flight's events."""


class Gathered(Struct, frozen=True):
    """Events of one kind about one thing, oldest first.

    ``side`` is from where the transmitter was seen, of fades from one known side, else ``''``; ``sides`` from how many
    sides they came. ``bridged`` is whether another antenna bridged every one of them.
    """

    kind: str
    subject: str
    side: Text
    sides: int
    bridged: bool
    events: tuple[Placed, ...]

    @property
    def level(self) -> Level:
        """The gravest of them."""
        return max((e.level for _, e in self.events), default=Level.FINE)

    @property
    def seconds(self) -> float:
        """Their time together, s."""
        return sum(e.duration_s for _, e in self.events)

    @property
    def deepest(self) -> Event:
        """The one that went furthest, the first where none has a depth."""
        # A margin, and a share of the usual, is the worse the smaller it is.
        known = [e for _, e in self.events if e.depth is not None and e.depth.value is not None]
        if not known:
            return self.events[0][1]
        unit = known[0].depth.unit if known[0].depth else ""
        falls = self.kind == "low_margin" or unit.startswith("%")
        return (min if falls else max)(known, key=lambda e: (e.depth.value or 0.0) if e.depth else 0.0)

    def as_one(self) -> Event:
        """One event that stands for all: from the first's begin to the last's end, as deep as the deepest."""
        if len(self.events) == 1:
            return self.events[0][1]
        deepest = self.deepest
        said = say(
            CoreCode.GATHERED, kind=self.kind, subject=Part(self.subject), times=len(self.events), sides=self.sides,
            side=self.side, seconds=self.seconds, deepest=deepest.depth, bridged=self.bridged,
        )  # fmt: skip
        start, end = min(e.start_s for _, e in self.events), max(e.end_s for _, e in self.events)
        return replace(
            deepest, subject=self.subject, start_s=start, end_s=end, level=self.level, summary=said, causes=()
        )


def gathered(
    events: Sequence[Event], bridging: Iterable[str] = (), most: int = MOST_LINES
) -> tuple[list[Placed], list[Gathered]]:
    """Split a flight's events into those that stand alone and those that are told together.

    Parameters
    ----------
    events : sequence of Event
        Of one flight, in any order.
    bridging : iterable of str
        Names of the receivers whose antennas can bridge each other's fades.
    most : int
        Lines for what asks for nobody.

    Returns
    -------
    list of (int, Event)
        What asks for attention and is rare of its kind, gravest first.
    list of Gathered
        All others, gravest first, then the most.
    """
    by: dict[tuple[str, str], list[Placed]] = {}
    for i, event in enumerate(events):
        by.setdefault((event.kind, event.subject), []).append((i, event))
    is_bridged = _bridged(events, bridging)
    alone: list[Placed] = []
    groups: list[Gathered] = []
    for (kind, subject), found in by.items():
        asking = [(i, e) for i, e in found if e.level >= Level.WATCH]
        own = asking if len(asking) <= MOST_ALONE else [(i, e) for i, e in asking if e.level is Level.ACT]
        alone += own
        kept = {i for i, _ in own}
        rest = [(i, e) for i, e in found if i not in kept]
        if any(e.level >= Level.WATCH for _, e in rest):
            groups.append(_group(kind, subject, rest, is_bridged))
        else:
            groups += _by_side(kind, subject, rest, is_bridged)
    calm = _folded([g for g in groups if g.level < Level.WATCH], most, is_bridged)
    alone.sort(key=lambda pair: (-pair[1].level, pair[1].start_s))
    every = [*(g for g in groups if g.level >= Level.WATCH), *calm]
    return alone, sorted(every, key=lambda g: (-g.level, -len(g.events)))


def _bridged(events: Sequence[Event], bridging: Iterable[str]) -> set[int]:
    """Places of fades that another antenna of the receiver bridged."""
    can = [f"link.{name}" for name in bridging]
    shared: dict[str, list[Event]] = {}
    for e in events:
        if e.kind == "fade_together":
            shared.setdefault(e.subject, []).append(e)
    out = set()
    for i, e in enumerate(events):
        receiver = next((r for r in can if e.kind == "fade" and e.subject.startswith(f"{r}.")), None)
        if receiver and all(e.end_s <= s.start_s or s.end_s <= e.start_s for s in shared.get(receiver, ())):
            out.add(i)
    return out


def _side(event: Event) -> Text:
    return event.summary.values.get("side", "") if isinstance(event.summary, Finding) else ""


def _group(kind: str, subject: str, found: Iterable[Placed], bridged: set[int]) -> Gathered:
    placed = tuple(sorted(found, key=lambda pair: (pair[1].start_s, pair[0])))
    sides = {repr(seen): seen for _, e in placed if (seen := _side(e))}
    known = all(_side(e) for _, e in placed)
    side: Text = next(iter(sides.values())) if len(sides) == 1 and known else ""
    return Gathered(kind, subject, side, len(sides), all(i in bridged for i, _ in placed), placed)


def _by_side(kind: str, subject: str, found: list[Placed], bridged: set[int]) -> list[Gathered]:
    """Fades by the side they came from, a side that was seen once with the others that were."""
    by: dict[str, list[Placed]] = {}
    for i, e in found:
        by.setdefault(repr(_side(e)) if kind == "fade" else "", []).append((i, e))
    often = [rows for rows in by.values() if len(rows) > 1]
    rare = [pair for rows in by.values() if len(rows) == 1 for pair in rows]
    return [_group(kind, subject, rows, bridged) for rows in (*often, rare) if rows]


def _folded(groups: list[Gathered], most: int, bridged: set[int]) -> list[Gathered]:
    """Fold the rarest into their like until so many are left: an antenna's sides first, then a receiver's antennas."""
    for within in ("", ".antenna"):  # the same antenna; then antennas of the same receiver
        while len(groups) > most:
            by: dict[tuple[str, str], list[Gathered]] = {}
            for g in groups:
                whose = g.subject.partition(within)[0] if within else g.subject
                by.setdefault((g.kind, whose), []).append(g)
            several = {key: sorted(found, key=lambda g: len(g.events)) for key, found in by.items() if len(found) > 1}
            if not several:
                break
            key, (one, other, *_) = min(several.items(), key=lambda item: (len(item[1][0].events), item[0]))
            subject = one.subject if one.subject == other.subject else key[1]
            groups = [g for g in groups if g is not one and g is not other]
            groups.append(_group(one.kind, subject, (*one.events, *other.events), bridged))
    return groups

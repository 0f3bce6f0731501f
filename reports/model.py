"""What the pages are made from. The application fills it; nothing here is computed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from functools import cached_property
from typing import Literal, overload

from msgspec import Struct, field

from analyser.bench.analysis import BenchResult
from analyser.core.events import Level
from analyser.core.findings import Text, coded
from analyser.core.telemetry import Telemetry
from analyser.fleet.comparison import Fleet
from analyser.programme.histories import FigureColumns, columns_of
from analyser.programme.measures import rows_of
from analyser.programme.result import ProgrammeResult
from analyser.programme.snags import SnagState
from analyser.programme.year import Year
from analyser.record import Record
from analyser.season.result import SeasonResult
from analyser.sense import believable
from reports.listing import Listed, Listing

NEWEST = 60
"""So many of an aircraft's newest flights are on pages that show many."""


class Unreadable(Exception):
    """A flight's telemetry cannot be read; the text is one sentence that says why and what to do."""


class Glance(Struct, frozen=True):
    """What a list of flights shows of one; ``None`` where the log does not tell it."""

    level: int
    airborne_s: float
    burned_ml: float | None
    burn_ml_per_min: float | None
    lowest_v: float | None
    fades: float | None

    @classmethod
    def of(cls, record: Record) -> Glance:
        """Take it from a whole record."""
        result = record.result
        low = [v for p in result.packs.packs if (v := believable(p.voltage.lowest_v)) is not None]
        fades = [a.fades.value for r in result.link.receivers for a in r.antennas if a.fades.value is not None]
        return cls(
            level=int(max((e.level for e in result.events()), default=Level.FINE)),
            airborne_s=float(result.phases.airborne_s),
            burned_ml=believable(result.fuel.burned),
            burn_ml_per_min=believable(result.fuel.rate),
            lowest_v=min(low, default=None),
            fades=float(sum(fades)) if fades else None,
        )


class Sums(Struct, frozen=True):
    """What an aircraft's flights add up to; ``events`` counts them by kind and by what they happened to."""

    flights: int
    airborne_s: float
    burned_ml: float
    first: datetime | None
    last: datetime | None
    events: Mapping[tuple[str, str], int]

    @classmethod
    def of(cls, records: Iterable[Record]) -> Sums:
        """Add whole records up."""
        records = list(records)
        starts = [r.utc_start for r in records if r.utc_start]
        events = Counter((e.kind, e.subject) for r in records for e in r.result.events() if e.level > 0)
        return cls(
            len(records),
            sum(float(r.result.phases.airborne_s) for r in records),
            sum(believable(r.result.fuel.burned) or 0.0 for r in records),
            min(starts, default=None),
            max(starts, default=None),
            events,
        )


class FlightPage(Struct, frozen=True):
    """One flight as pages need it.

    ``telemetry`` loads the screened telemetry when (and only when) the page is really built; it may raise
    :class:`Unreadable`. ``fingerprint`` changes
    whenever anything the page shows changes. ``title`` is for people; ``notices`` is what the import recorded.
    ``record`` may read its result when it is asked for; ``brief`` holds what pages over flights show, ``glance`` what
    lists show. Both are taken from the record where they are not given.
    """

    record: Record
    title: str
    source: str
    notices: tuple[Text, ...]
    fingerprint: str
    telemetry: Callable[[], Telemetry]
    labelled: str = ""
    checklist: tuple[tuple[str, bool], ...] = ()
    """The owner's list, each item with whether it was ticked before this flight."""
    brief: Record | None = None
    glance: Glance | None = None

    @property
    def seen(self) -> Record:
        """What pages over flights read of it."""
        return self.brief or self.record

    def at_a_glance(self) -> Glance:
        """What lists show of it."""
        return self.glance or Glance.of(self.record)


class Pages(Sequence[FlightPage]):
    """Pages of flights, each put together when it is asked for.

    Parameters
    ----------
    flight_ids : sequence of str
        Their ids.
    make : callable
        Puts one of them together by its id.
    """

    def __init__(self, flight_ids: Sequence[str], make: Callable[[str], FlightPage]) -> None:
        self.ids, self._make = flight_ids, make

    def __len__(self) -> int:
        return len(self.ids)

    @overload
    def __getitem__(self, at: int) -> FlightPage: ...

    @overload
    def __getitem__(self, at: slice) -> Pages: ...

    def __getitem__(self, at: int | slice) -> FlightPage | Pages:
        return Pages(self.ids[at], self._make) if isinstance(at, slice) else self._make(self.ids[at])


class ById(Mapping[str, FlightPage]):
    """Pages of flights by their ids."""

    def __init__(self, places: Mapping[str, int], pages: Sequence[FlightPage]) -> None:
        self._places, self._pages = places, pages

    def __len__(self) -> int:
        return len(self._places)

    def __iter__(self) -> Iterator[str]:
        return iter(self._places)

    def __contains__(self, flight_id: object) -> bool:
        return flight_id in self._places

    def __getitem__(self, flight_id: str) -> FlightPage:
        return self._pages[self._places[flight_id]]


class FailedFlight(Struct, frozen=True):
    """A flight that could not be worked out; ``why`` also says what to do."""

    flight_id: str
    title: str
    source: str
    why: Text
    labelled: str = ""


class Step(Struct, frozen=True):
    """Something that changed before a flight: a line in what is drawn over flights, and a remark on its day.

    ``kind`` is ``change`` (noted: a layout, a pack), ``remedy`` (something was mended) or ``step`` (a figure changed by
    itself). ``measure`` is the figure it concerns, '' where any.
    """

    flight_id: str
    kind: Literal["change", "remedy", "step"]
    text: Text
    measure: str = ""


class YearPage(Struct, frozen=True):
    """One aircraft's year: ``made`` reads or makes it; ``mark`` changes with it, ``None`` where nothing tells that."""

    mark: str | None
    made: Callable[[], Year]


class FleetPage(Struct, frozen=True):
    """Things of one type beside each other: ``made`` compares them when the page is really built.

    ``mark`` changes whenever what is compared may have changed.
    """

    mark: str
    made: Callable[[], Fleet]


class OverFlights(Struct, frozen=True):
    """What is said over flights, besides what each is by itself.

    ``steps`` are what an owner mended and what the analyser found changed; what the notes tell of layouts and packs is
    added by the pages.
    """

    season: SeasonResult
    programmes: Mapping[str, ProgrammeResult] = field(default_factory=dict)
    """What the monitoring programme says of each aircraft."""
    steps: tuple[Step, ...] = ()


class Site(Struct, frozen=True, dict=True):
    """A whole logbook as pages need it; flights newest first. ``labelled`` is printed on every page (invented data).

    ``over`` is what is said over flights, or puts it together: it is asked once, by the first page that shows some of
    it. A flight's own page does not, unless a snag was ever noted (``snags``).

    ``listing`` runs parallel to ``flights`` and is taken from them where it is not given; where ``flights`` are put
    together one by one, pages that show few ask for few. ``called`` tells a flight's title by its id, where that takes
    less than its page. ``sums`` are each aircraft's; taken from its flights where they are not given. ``measured``
    reads the kept figures of some flights.
    """

    title: str
    flights: Sequence[FlightPage]
    over: OverFlights | Callable[[], OverFlights]
    generated: str
    labelled: str = ""
    failed: tuple[FailedFlight, ...] = ()
    checklists: dict[str, list[str]] = field(default_factory=dict)
    """The owner's list of each aircraft."""
    bench: dict[str, BenchResult] = field(default_factory=dict)
    """What was proved on the ground, by aircraft; '' for packs that were in none."""
    snags: bool = True
    sums: Mapping[str, Sums] = field(default_factory=dict)
    measured: Callable[[Sequence[str]], FigureColumns] | None = None
    year: Callable[[str, int], YearPage] | None = None
    """What the page of one aircraft's year is made from."""
    listing: Sequence[Listed] = ()
    called: Callable[[str], str] | None = None
    fleet: FleetPage | None = None
    """Things of one type beside each other; of two aircraft or more."""

    @cached_property
    def said(self) -> OverFlights:
        """What is said over flights."""
        return self.over() if callable(self.over) else self.over

    @property
    def season(self) -> SeasonResult:
        """What the analyser says over flights."""
        return self.said.season

    @property
    def programmes(self) -> Mapping[str, ProgrammeResult]:
        """What the monitoring programme says of each aircraft."""
        return self.said.programmes

    def open_on(self, aircraft: str, day: date | None) -> tuple[SnagState, ...]:
        """Snags of an aircraft that were open on a day; those that are open now where the day is not known."""
        programme = self.programmes.get(aircraft) if self.snags else None
        if programme is None or not programme.snags:
            return ()
        return tuple(
            s
            for s in programme.snags
            if (s.snag.open if day is None else s.snag.day <= day and (s.snag.closed is None or s.snag.closed > day))
        )

    @cached_property
    def listed(self) -> Listing:
        """Every flight as lists need it, newest first."""
        if isinstance(self.listing, Listing):
            return self.listing
        return Listing.of(self.listing or [_listed(f) for f in self.flights])

    @cached_property
    def by_id(self) -> ById:
        """Flights by their ids."""
        return ById(self.listed.at, self.flights)

    @cached_property
    def owned(self) -> dict[str, Pages]:
        """Flights by aircraft, newest first."""
        return {name: self.at(places.tolist()) for name, places in self.listed.of_owner.items()}

    def at(self, places: Iterable[int]) -> Pages:
        """Flights at some places of :attr:`listed`, in the order given."""
        ids = self.listed.ids
        return self.some([ids[n] for n in places])

    def on(self, day: date) -> Pages:
        """Flights of a day, newest first."""
        return self.at(self.listed.of_day.get(f"{day:%Y-%m-%d}", ()))

    @cached_property
    def day_list(self) -> list[date]:
        """Flying days, oldest first."""
        return [date.fromisoformat(day) for day in sorted(self.listed.of_day)]

    @cached_property
    def steps_before(self) -> dict[str, list[Step]]:
        """What was mended or changed by itself, by the flight before which it was."""
        out: dict[str, list[Step]] = {}
        for step in self.said.steps:
            out.setdefault(step.flight_id, []).append(step)
        return out

    def some(self, flight_ids: Sequence[str]) -> Pages:
        """Some flights, in the order given."""
        return Pages(flight_ids, self.by_id.__getitem__)

    def newest(self, aircraft: str, most: int = NEWEST) -> tuple[FlightPage, ...]:
        """The newest flights of an aircraft, newest first: pages over flights show no more."""
        return tuple(self.owned[aircraft][:most]) if aircraft in self.owned else ()

    def figures_of(self, flights: Sequence[FlightPage]) -> FigureColumns:
        """The kept figures of some flights, in their order."""
        if self.measured is not None:
            return self.measured([f.record.flight_id for f in flights])
        return columns_of([rows_of(f.record.result) for f in flights])

    def sums_of(self, aircraft: str) -> Sums:
        """What an aircraft's flights add up to."""
        return self.sums.get(aircraft) or Sums.of(f.seen for f in self.owned.get(aircraft, ()))

    def title_of(self, flight_id: str) -> str:
        """A flight's title, its id where there is no such flight."""
        if flight_id not in self.by_id:
            return flight_id
        return self.called(flight_id) if self.called else self.by_id[flight_id].title

    def number_of(self, flight_id: str) -> str:
        """A flight's number, its id where there is no such flight."""
        return str(self.by_id[flight_id].record.number) if flight_id in self.by_id else flight_id


def _listed(page: FlightPage) -> Listed:
    start = page.record.utc_start
    said = [page.fingerprint, page.title, page.source, *map(coded, page.notices), page.labelled]
    mark = "\0".join([*said, repr(page.checklist), str(page.record.number)])
    day = f"{start.date():%Y-%m-%d}" if start else ""
    return Listed(page.record.flight_id, page.record.aircraft, day, mark)

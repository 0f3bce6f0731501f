"""An aircraft's flights as the programme follows them: judged, with their figures read from the kept table."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc
from msgspec import Struct

from analyser.programme.histories import WINDOW, Flown, History, histories_of, kinds_in
from analyser.programme.measures import Row
from analyser.programme.service import RUNS, Runs, laid_out, runs_of
from analyser.programme.snags import Snag
from analyser.programme.year import Happened, happened
from analyser.record import FlightRecord
from spooldown.judging.marks import all_marks
from spooldown.logbook.book import Logbook
from spooldown.logbook.codec import to_bytes
from spooldown.logbook.columns import FLIGHT, Columns, words_of
from spooldown.programme.snags import all_snags
from spooldown.register import Register
from spooldown.work.overview import Entries, Overview, overview

EPOCH = date(1970, 1, 1).toordinal()


class Followed(Struct, frozen=True, dict=True):
    """The flights of one aircraft, oldest first; ``newest`` is how many of them are followed closely."""

    book: Logbook
    whole: Overview
    aircraft: str
    entries: Entries
    newest: int = WINDOW

    @cached_property
    def snags(self) -> Sequence[Snag]:
        """Snags of the aircraft, oldest first."""
        return all_snags(self.book, self.aircraft)

    @cached_property
    def entered(self) -> bytes:
        """What a person said that a year's page tells of: every mark, and the aircraft's snags."""
        return to_bytes(tuple(all_marks(self.book).values()), sort=True) + to_bytes(tuple(self.snags), sort=True)

    @property
    def flights(self) -> Entries:
        """The newest flights."""
        return self.entries[-self.newest :]

    @cached_property
    def flown(self) -> tuple[Flown, ...]:
        """The newest flights; their figures are in :attr:`past`."""
        return self.listed(self.flights.ids)

    @cached_property
    def past(self) -> Mapping[tuple[str, str], History]:
        """Their figures by figure and part."""
        return histories_of(self.flown, self.whole.columns(self.flights.ids)) if self.flown else {}

    @cached_property
    def by_year(self) -> Mapping[int, Sequence[str]]:
        """Every flight whose day is known, by its year."""
        days = self.whole.days
        out: dict[int, list[str]] = {}
        for flight_id in self.entries.ids:
            if day := days[flight_id]:
                out.setdefault(int(day[:4]), []).append(flight_id)
        return out

    def parts(self, flights: int) -> list[str]:
        """Parts that the last flights have figures of, in the order they come."""
        rows = self.whole.figures(self.flights[-flights:].ids).values()
        return list(dict.fromkeys(r.part for own in rows for r in own if r.part))

    def listed(self, flight_ids: Sequence[str], rows: Mapping[str, Sequence[Row]] | None = None) -> tuple[Flown, ...]:
        """Some flights by their numbers and days, with those rows of figures that are given."""
        numbers, days = self.whole.prepared.numbers, self.whole.days
        return tuple(
            Flown(i, numbers[i], date.fromisoformat(days[i]) if days[i] else None, tuple(rows[i]) if rows else ())
            for i in flight_ids
        )

    def among(
        self, flight_ids: Sequence[str], measures: Collection[str]
    ) -> tuple[tuple[Flown, ...], Mapping[tuple[str, str], History]]:
        """Some flights, and the histories of a few figures over them, however many they are."""
        flown = self.listed(flight_ids)
        return flown, histories_of(flown, self.whole.columns_of(flight_ids, measures), measures)

    def runs(self) -> Runs:
        """What every flight ran, as columns, however many there are."""
        ids, known = self.entries.ids, self.whole.days
        days = _ordinals([known[i] for i in ids])
        names = ("measure", "part", "thing")
        try:
            table = Columns(self.book.folder).read(
                "runs", (*names, "value"), where={"aircraft": [self.aircraft]}, coded=True
            )
        except (OSError, ValueError):
            return runs_of(self.listed(ids, self.whole.figures(ids, RUNS)))
        flights, of = words_of(table.column(FLIGHT))
        at = pc.fill_null(pc.index_in(pa.array(flights, pa.string()), pa.array(ids, pa.string())), -1).to_numpy()[of]
        told, which = kinds_in([words_of(table.column(name)) for name in names])
        rows, values = np.stack([at, which]), table.column("value").to_numpy()
        return laid_out(
            days, [(measure, part, thing) for measure, part, thing in told], rows[:, at >= 0], values[at >= 0]
        )

    def events(self, flight_ids: Sequence[str]) -> Happened:
        """Events of some flights that deserved a remark, without what was said of them."""
        try:
            names = ("kind", "subject")
            table = Columns(self.book.folder).read("events", (*names, "level"), where={FLIGHT: flight_ids}, coded=True)
        except (OSError, ValueError):
            return happened([tuple(self.whole.brief(i).result.events()) for i in flight_ids])
        kinds, which = kinds_in([words_of(table.column(name)) for name in names])
        flights, of = words_of(table.column(FLIGHT))
        place = pc.index_in(pa.array(flights, pa.string()), pa.array(flight_ids, pa.string()))
        level = table.column("level").to_numpy().astype(np.intp)
        told = [(kind, subject) for kind, subject in kinds]
        at = pc.fill_null(place, -1).to_numpy()[of].astype(np.intp)  # a dictionary holds words of rows left out
        return Happened(told, which, at, level, np.zeros(level.size, bool))

    def share(self, flight_ids: Collection[str]) -> tuple[int, int]:
        """How many figures of some flights were measured, and how many there would be had the logs held everything."""
        if not flight_ids:
            return 0, 0
        try:
            table = Columns(self.book.folder).read("figures", ["value"], where={FLIGHT: flight_ids})
            return len(table) - table.column("value").null_count, len(table)
        except (OSError, ValueError):
            rows = [r for rows in self.whole.figures(flight_ids).values() for r in rows]
            return sum(r.value is not None for r in rows), len(rows)

    def record(self, flight_id: str) -> FlightRecord:
        """One flight with everything its page shows."""
        return self.whole.whole(flight_id)


def _ordinals(days: Sequence[str]) -> npt.NDArray[np.int64]:
    """Ordinals of days written ``2031-04-05``, 0 for those that are not known."""
    written = np.array([day or "NaT" for day in days], "datetime64[D]")
    return np.where(np.isnat(written), 0, written.astype(np.int64) + EPOCH)


def follow(
    book: Logbook, register: Register, aircraft: str, newest: int = WINDOW, whole: Overview | None = None
) -> Followed:
    """Follow an aircraft's flights; what is kept is not worked out again.

    Parameters
    ----------
    newest : int
        How many of them at most are followed closely.
    whole : Overview, optional
        The logbook, where it is at hand.
    """
    whole = whole or overview(book, register, failures=[])
    return Followed(book, whole, aircraft, whole.of(aircraft), newest)

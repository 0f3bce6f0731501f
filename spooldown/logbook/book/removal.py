"""Flights taken out: into the bin, out of it again, or deleted for good."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import nullcontext

from spooldown.logbook import bin, entered
from spooldown.logbook.book.writing import Writer
from spooldown.logbook.catalogue import is_full
from spooldown.logbook.unknown import ENDING
from spooldown.problems import LogbookProblem


class Removal(Writer):
    """What takes flights out."""

    def remove(self, flight_ids: Iterable[str], *, why: str = "") -> None:
        """Put flights into the bin, with their notes; an import is forgotten with its last flight.

        Parameters
        ----------
        why : str
            Why they are set aside, '' where someone wants them out.
        """
        with self.writing() as db:
            when = bin.now(db)
            for flight_id in flight_ids:
                bin.put(db, flight_id, when, why)
                self._move(self.telemetry_path(flight_id), self.bin_folder / f"{flight_id}{ENDING}")

    def delete(self, flight_ids: Iterable[str]) -> None:
        """Delete flights for good: through the bin, where a kill in between leaves them whole or being deleted.

        A full disk has no room for that; there the files go before the change is committed, so that there is room.
        """
        flight_ids = list(flight_ids)
        try:
            with self.writing() as db:
                known = set(self.flight_ids())
                there = [i for i in flight_ids if i in known]
                self.remove(there)
                bin.doom(db, there)
        except LogbookProblem as problem:
            if not is_full(problem):
                raise
        else:
            if there:
                self.empty_bin(there)
            return
        bin.forget_results(self.cache_folder, flight_ids)
        with self._without_room(), self.writing() as db:
            db.executemany("DELETE FROM flight WHERE flight_id = ?", [(i,) for i in flight_ids])
            db.execute("DELETE FROM import WHERE import_id NOT IN (SELECT import_id FROM flight)")
            for flight_id in flight_ids:
                self.enter([entered.GONE, flight_id])
                self.telemetry_path(flight_id).unlink(missing_ok=True)

    def bring_back(self, flight_ids: Iterable[str]) -> None:
        """Take flights out of the bin, with their notes; all or none.

        Raises
        ------
        NotFoundProblem
            If one is not in the bin.
        LogbookProblem
            If its log was imported again, or its file is gone.
        """
        with self.writing() as db:
            for flight_id in self._in_bin(chosen) if (chosen := list(flight_ids)) else ():
                bin.bring_back(db, flight_id)
                file = self.bin_folder / f"{flight_id}{ENDING}"
                if not file.is_file():
                    raise LogbookProblem("logbook.not_in_bin", flight=flight_id, file=str(file))
                self._move(file, self.flights_folder / file.name)

    def empty_bin(self, flight_ids: Iterable[str] = ()) -> list[str]:
        """Delete flights in the bin for good, all of them where none is named; returns which.

        Raises
        ------
        NotFoundProblem
            If one is not in the bin.
        """
        named, chosen, room = list(flight_ids), None, False
        try:
            with self.writing() as db:
                chosen = self._in_bin(named)
                bin.doom(db, chosen)
            room = True
        except LogbookProblem as problem:
            if not is_full(problem):  # there is no room for marks
                raise
        with nullcontext() if room else self._without_room(), self.writing() as db:
            # Nothing that somebody else puts there meanwhile.
            there = set(self.in_bin())
            chosen = self._in_bin(named) if chosen is None else [i for i in chosen if i in there]
            bin.empty(db, self.folder, chosen)
            for flight_id in chosen:
                self.enter([entered.GONE, flight_id])
        bin.forget_results(self.cache_folder, chosen)
        return sorted(chosen)

    def mark_removed(self, flight_id: str, why: str) -> None:
        """Say why a flight in the bin is not as it was put there."""
        with self.writing() as db:
            bin.mark(db, flight_id, why)

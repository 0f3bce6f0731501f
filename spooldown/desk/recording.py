"""Recordings that the desk runs, and those it looks at, whoever runs them."""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct, field

from reports.words.catalogue import message
from spooldown.problems import NotFoundProblem, UsageProblem

if TYPE_CHECKING:
    from spooldown.live.limits import Limit
    from spooldown.live.recordings import Recording
    from spooldown.live.session import Session
    from spooldown.live.sources.addresses import Address
    from spooldown.live.watch import Watch
    from spooldown.logbook.book import Logbook

RECORDINGS = "recordings"
"""The logbook's folder of them."""
LONGEST_HEADINGS = 20_000
"""Characters of a line of headings."""
FORGOTTEN_S = 60.0
"""A recording that nobody has looked at for so long is no longer followed."""
MOST_WATCHED = 4


class Recordings(Struct):
    """One recording at most runs here; a few may be looked at."""

    folder: Path
    session: Session | None = None
    _watches: dict[str, tuple[Watch, float]] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    @property
    def running(self) -> str:
        """Name of the recording that runs here; '' where none does."""
        return self.session.recorder.path.name if self.session is not None and self.session.going else ""

    def listed(self) -> list[Recording]:
        """Every recording, newest first."""
        from spooldown.live.recordings import listed

        return listed(self.folder)

    def get(self, name: str) -> Recording:
        """The recording of that name.

        Raises
        ------
        NotFoundProblem
            If there is none.
        """
        for one in self.listed():
            if one.name == name:
                return one
        raise NotFoundProblem(message("desk.live.gone"))

    def start(self, book: Logbook, address: Address, *, aircraft: str = "", headings: str = "") -> str:
        """Begin to record; returns the recording's name.

        Raises
        ------
        UsageProblem
            If one runs already.
        Problem
            If the source can't be opened.
        """
        from spooldown import register
        from spooldown.live.recordings import new_path
        from spooldown.live.session import Session
        from spooldown.live.sources.opening import source_at

        with self._lock:
            if self.running:
                raise UsageProblem(message("live.refused.runs_already"))
            self.end()
            known = register.load(book).find_aircraft(aircraft) if aircraft else None
            path = new_path(self.folder, datetime.now(), known.name if known else "")
            made = Session(
                source_at(address), path, headings=headings, limits=limits_of(book), aircraft=known,
                mappings=book.mapping_files(),
            )  # fmt: skip
            made.start()
            self.session = made
            return path.name

    def end(self) -> None:
        """End what runs here; what was received is kept."""
        with self._lock:
            if self.session is not None:
                self.session.stop()

    def watch(self, book: Logbook, name: str) -> Watch:
        """What is seen of a recording: of the one that runs here by its own view, of others by following their file.

        Raises
        ------
        NotFoundProblem
            If there is no such recording.
        """
        from spooldown.live.recordings import headings_of
        from spooldown.live.watch import Watch

        with self._lock:
            if self.session is not None and self.session.recorder.path.name == name:
                return self.session.watch
            now = time.monotonic()
            for old in [n for n, (_, looked) in self._watches.items() if now - looked > FORGOTTEN_S]:
                self._watches.pop(old)[0].close()
            if name not in self._watches:
                from spooldown import register

                found = self.get(name)
                path = found.path
                aircraft = register.load(book).find_aircraft(found.aircraft) if found.aircraft else None
                while len(self._watches) >= MOST_WATCHED:
                    self._watches.pop(min(self._watches, key=lambda n: self._watches[n][1]))[0].close()
                made = Watch(
                    path, limits=limits_of(book), headings=headings_of(path), aircraft=aircraft,
                    mappings=book.mapping_files(),
                )  # fmt: skip
                made.step()  # so that the first look shows something
                made.start()
                self._watches[name] = made, now
            watch = self._watches[name][0]
            self._watches[name] = watch, now
            return watch

    def limits_changed(self, book: Logbook) -> None:
        """Let new limits speak at once."""
        from spooldown.live.limits import Watchman

        with self._lock:
            watches = [w for w, _ in self._watches.values()]
            for watch in [*watches, *([self.session.watch] if self.session else [])]:
                with watch.lock:
                    watch.watchman = Watchman(limits_of(book))

    def close(self) -> None:
        """End everything."""
        with self._lock:
            self.end()
            for watch, _ in self._watches.values():
                watch.close()
            self._watches.clear()


def limits_of(book: Logbook) -> tuple[Limit, ...]:
    """The limits that the logbook remembers."""
    from spooldown.live.limits import SETTING, parse_all

    return parse_all(book.setting(SETTING).splitlines())


def address_in(form: Mapping[str, list[str]], *, own: bool, lan: str) -> Address:
    """Where the form says that lines come from.

    Only ports that are there can be named, and only this machine's own browser may let the network in or call out.

    Raises
    ------
    Problem
        If it names nothing that there is, or what a phone may not ask for.
    """
    from spooldown.live.sources import ports
    from spooldown.live.sources.addresses import USUAL_BAUD, Address, source_of

    def said(name: str) -> str:
        return (form.get(name) or [""])[0].strip()

    kind = said("kind")
    if kind == "serial":
        port = next((p for p in ports.found() if p == said("port")), "")
        if not port:
            raise NotFoundProblem(message("live.refused.no_port", port=said("port"), ports=ports.found()))
        baud = said("baud") or str(USUAL_BAUD)
        if not baud.isascii() or not baud.isdecimal() or not 50 <= int(baud) <= 4_000_000:
            raise UsageProblem(message("live.refused.baud", port=port, baud=baud[:20]))
        return Address("serial", path=port, baud=int(baud))
    if kind == "udp" and not ("network" in form and lan):
        return source_of(f"udp:{said('udp')}")
    if not own:
        raise UsageProblem(message("live.refused.not_by_phone"))
    return source_of(f"udp:{lan}:{said('udp')}" if kind == "udp" else f"tcp:{said('tcp')}")


def headings_in(form: Mapping[str, list[str]], book: Logbook) -> str:
    """The line of headings that the form gives, or that the saved mapping it names was made for.

    Raises
    ------
    UsageProblem
        If that mapping has none, or the line is longer than any.
    """
    from importers.layout.mapping import load
    from importers.refusal import Refusal

    line = " ".join((form.get("headings") or [""])[0].split("\n")).strip()
    name = (form.get("mapping") or [""])[0]
    if line or not name:
        if len(line) > LONGEST_HEADINGS:
            raise UsageProblem(message("live.refused.no_headings", word=line[:40]))
        return line
    for path in book.mapping_files():
        if path.stem == name:
            try:
                if header := load(path).header:
                    return header
            except Refusal:
                break
    raise UsageProblem(message("live.refused.no_headings", word=name[:40]))

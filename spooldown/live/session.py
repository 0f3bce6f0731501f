"""One recording with its live view: what a command or the desk starts and stops."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from analyser.core.aircraft import Aircraft
from spooldown.live.limits import Limit
from spooldown.live.recorder import Recorder, Summary
from spooldown.live.sources.base import Source
from spooldown.live.watch import Watch


class Session:
    """Records a source and understands it meanwhile.

    Parameters
    ----------
    source, path, more, headings, idle_s, until_s
        See :class:`spooldown.live.recorder.Recorder`.
    limits, mappings, answers, aircraft
        See :class:`spooldown.live.watch.Watch`.

    Raises
    ------
    Problem
        If the source or the file can't be opened.
    """

    def __init__(
        self, source: Source, path: Path, *, more: bool = False, headings: str = "", idle_s: float | None = None,
        until_s: float | None = None, limits: Sequence[Limit] = (), mappings: Sequence[Path] = (),
        answers: Mapping[str, str] | None = None, aircraft: Aircraft | None = None,
    ) -> None:  # fmt: skip
        self.recorder = Recorder(source, path, more=more, headings=headings, idle_s=idle_s, until_s=until_s,
                                 aircraft=aircraft.name if aircraft else "")  # fmt: skip
        self.watch = Watch(
            path, limits=limits, note=self.recorder.journal, mappings=mappings, answers=answers, aircraft=aircraft,
            headings=headings,
        )  # fmt: skip

    def start(self) -> None:
        """Begin."""
        self.recorder.start()
        self.watch.start()

    @property
    def going(self) -> bool:
        """Whether it records."""
        return self.recorder.running

    def stop(self) -> Summary:
        """End, and wait until everything received is on the disk."""
        self.recorder.stop()
        self.recorder.join(30)
        self.watch.close()
        self.watch.catch_up()
        return self.recorder.summary

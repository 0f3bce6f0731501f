"""What every source of lines can do, and how it says that it is gone."""

from __future__ import annotations

from abc import ABC, abstractmethod

CHUNK = 64 * 2**10
"""Bytes taken at a time at most."""


class Lost(Exception):
    """The source vanished; it may come back. The text is the system's reason."""


class Source(ABC):
    """Bytes from somewhere, as they come.

    Attributes
    ----------
    name : str
        What to call it.
    mid_line : bool
        Whether it may begin in the middle of a line.
    live : bool
        Whether what comes has just been measured; a file may be an old one.
    waits : bool
        Whether what is not taken yet stays there until it is; a wire's is gone.
    """

    name: str = ""
    mid_line: bool = False
    live: bool = False
    waits: bool = False

    @abstractmethod
    def open(self) -> None:
        """Open it, or open it again.

        Raises
        ------
        Problem
            If it can't be opened now; the sentence says what to do.
        """

    @abstractmethod
    def read(self, wait_s: float) -> bytes | None:
        """Whatever came within ``wait_s`` seconds; empty where nothing did, None where nothing will any more.

        Raises
        ------
        Lost
            If the source is gone.
        """

    @abstractmethod
    def close(self) -> None:
        """Let go of it."""

    def lose(self) -> None:
        """Let go of what vanished, to open it again."""
        self.close()

    def skip(self, count: int) -> None:
        """Leave out so many bytes that have been recorded before; only a file can."""
        raise NotImplementedError(f"{self.name} can't go back to byte {count}")

    def notes(self) -> list[tuple[str, dict[str, object]]]:
        """What happened since the last time that a reader of the recording should know: event and values."""
        return []

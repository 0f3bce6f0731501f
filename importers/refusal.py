"""Bad input in one clear sentence: where, what was found, what was expected, what to do."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from functools import partial
from typing import Any

from analyser.core.findings import Finding, Text, say


class Refused(StrEnum):
    """Codes of refusals. The catalogue of words says of each what was ``found``, ``expected``, and the ``remedy``."""


class Refusal(Exception):
    """Input the tool will not take.

    Parameters
    ----------
    file : str or Finding
        As the user named it, or what was given instead of one.
    code : str
        A member of a room's :class:`Refused`.
    line : int or None
        1-based.
    column : str or None
        Column heading, key path, or number.
    **values
        What fills the words: names, counts, findings.
    """

    def __init__(
        self, file: Text, code: str = "refusal.plain", *, line: int | None = None, column: str | None = None,
        **values: Any,
    ) -> None:  # fmt: skip
        self.file, self.code, self.line, self.column = file, code, line, column
        self.values: Mapping[str, Any] = values
        super().__init__(file, code)

    def __reduce__(self) -> tuple[object, ...]:
        return partial(Refusal, self.file, self.code, line=self.line, column=self.column, **self.values), ()

    @property
    def finding(self) -> Finding:
        """The whole sentence, for the catalogue of words."""
        found, expected, remedy = (say(f"{self.code}.{c}", **self.values) for c in ("found", "expected", "remedy"))
        where = say("refusal.where", file=self.file, line=self.line, column=self.column or "")
        return say("refusal.sentence", where=where, found=found, expected=expected, remedy=remedy)

    def __str__(self) -> str:
        # What it quotes may hold a line end; and it is a plain line, to be searched.
        return " ".join(str(self.finding).splitlines()).replace("\u00a0", " ")

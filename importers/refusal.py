"""Bad input in one clear sentence: where, what was found, what was expected, what to do."""

from __future__ import annotations

from functools import partial


class Refusal(Exception):
    """Input the tool will not take.

    Parameters
    ----------
    file : str
        As the user named it.
    found, expected, remedy : str
        Clauses without a final full stop.
    line : int or None
        1-based.
    column : str or None
        Column heading, key path, or number.
    """

    def __init__(
        self,
        file: str,
        *,
        found: str,
        expected: str,
        remedy: str,
        line: int | None = None,
        column: str | None = None,
    ) -> None:
        self.file, self.line, self.column = file, line, column
        self.found, self.expected, self.remedy = found, expected, remedy
        super().__init__(str(self))

    def __reduce__(self) -> tuple[object, ...]:
        said = {"found": self.found, "expected": self.expected, "remedy": self.remedy}
        return partial(Refusal, self.file, **said, line=self.line, column=self.column), ()

    def __str__(self) -> str:
        where = self.file
        if self.line is not None:
            where += f", line {self.line}"
        if self.column:
            where += f", column {self.column!r}"
        said = f"{where}: found {self.found}, expected {self.expected}; {self.remedy}."
        return " ".join(said.splitlines())  # what it quotes may hold a line end

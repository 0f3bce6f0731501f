"""What the analyser has to say: a code and what fills it. The words are somebody else's.

A :class:`Finding` names what was found by a code from an enumeration and carries the figures, parts and moments that
belong to it. The report's catalogue turns it into a sentence of the reader's language, so findings are grouped,
compared and counted by their code and never by their wording. Each subject keeps its codes in a module ``codes``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, TypeAlias


class Part(str):
    """A thing of the aircraft or a channel, by its dotted name: ``fuel.left``, ``link.rx2.antenna2``, ``pack.rx1``.

    Pages show the owner's own name for it.

    Examples
    --------
    >>> Part("fuel.left")
    Part('fuel.left')
    """

    __slots__ = ()

    def __repr__(self) -> str:
        return f"Part({str.__repr__(self)})"


Value: TypeAlias = Any
"""What fills a finding: a figure, a finding, a part, a name, a count, a number, a moment, or a tuple of these."""


_writers: list[Callable[[Finding], str]] = []


def written_by(write: Callable[[Finding], str]) -> None:
    """Let ``str`` of a finding be what this makes of it; the catalogue of words asks for that when it is loaded."""
    _writers[:] = [write]


class Finding:
    """One thing to be said. ``str`` of it is its sentence where a catalogue of words is loaded, else its code.

    No record as others: its values are of any kind, so who keeps one writes it in a way of his own.

    Parameters
    ----------
    code : str
        A member of a subject's enumeration of codes (``FuelCode.LANDED_BELOW``, a ``StrEnum``).
    values : mapping of str to Value
        What fills the words: figures, parts, counts, moments, further findings, tuples of these.

    Examples
    --------
    >>> Finding("fuel.tank_full", {"tank": Part("fuel.left")})
    Finding(fuel.tank_full, tank=Part('fuel.left'))
    """

    __slots__ = ("code", "values")

    def __init__(self, code: str, values: Mapping[str, Value] | None = None) -> None:
        self.code = code
        self.values: Mapping[str, Value] = {} if values is None else values

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Finding) and self.code == other.code and self.values == other.values

    def __hash__(self) -> int:
        # With its words: ten thousand notices of one code would otherwise be compared each with each.
        return hash((self.code, *(value for value in self.values.values() if isinstance(value, str))))

    def __repr__(self) -> str:
        inside = "".join(f", {name}={value!r}" for name, value in self.values.items())
        return f"Finding({self.code!s}{inside})"

    def __str__(self) -> str:
        return _writers[0](self) if _writers else repr(self)

    def findings(self) -> Iterator[Finding]:
        """Iterate over this finding and every one inside it, outermost first."""
        yield self
        for value in self.values.values():
            for one in value if isinstance(value, tuple) else (value,):
                if isinstance(one, Finding):
                    yield from one.findings()


def say(code: str, **values: Value) -> Finding:
    """Make a finding; keywords fill it.

    Examples
    --------
    >>> say("fuel.no_channel").code
    'fuel.no_channel'
    """
    return Finding(code, values)


def coded(said: Value) -> str:
    """Write a finding in one line that is the same in every language: its code and what fills it.

    Examples
    --------
    >>> coded(say("core.from_channels", channels=("fuel.left.used_ml", "fuel.right.used_ml")))
    'core.from_channels(channels=fuel.left.used_ml, fuel.right.used_ml)'
    """
    if isinstance(said, tuple):
        return ", ".join(map(coded, said))
    if not isinstance(said, Finding):
        return str(said)
    inside = "; ".join(f"{name}={coded(value)}" for name, value in said.values.items())
    return f"{said.code}({inside})" if inside else str(said.code)


if TYPE_CHECKING:
    Text: TypeAlias = Finding | str
    """Something to be read: a finding, or a name that is the same in every language."""
else:
    Text = Any  # what reads a kept record knows a finding by its mark, and asks for no kind

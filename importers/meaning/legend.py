"""Codes for headings, which lines above the header explain: ``K1 = Drehzahl [1/min]``."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from importers.meaning.heading import split
from importers.meaning.words import fold, meanings

_CODE = re.compile(r"[A-Za-z]{1,4}[\s_.-]?\d{1,3}")
"""Letters and a number, which may mean a cell or a shaft, where no line says otherwise."""
_FEW = 2
"""Fewer lines than these that explain a heading are no legend: one may say something else under the same word."""


def explained(headings: Sequence[str], above: Mapping[str, str]) -> list[str]:
    """Headings with what the lines above say in place of codes that say nothing by themselves.

    Parameters
    ----------
    above : mapping of str to str
        What the lines above the header say, by their keys in small letters.

    Examples
    --------
    >>> explained(["t_s", "K1", "K2"], {"k1": "Drehzahl (1/min)", "k2": "EGT (°C)"})
    ['t_s', 'Drehzahl (1/min)', 'EGT (°C)']
    """
    said = {
        i: text for i, h in enumerate(headings) if (text := above.get(h.strip().casefold(), "")) and _tells(h, text)
    }
    apart = len({fold(text) for text in said.values()}) == len(said)
    return [said.get(i, h) for i, h in enumerate(headings)] if len(said) >= _FEW and apart else list(headings)


def _tells(code: str, text: str) -> bool:
    """Whether a line speaks of something that can be measured, and the heading that it explains does not."""
    spoken = [any(any(m) for m in map(meanings, split(part)[0])) for part in (code, text)]
    return spoken[1] and (not spoken[0] or bool(_CODE.fullmatch(code.strip())))

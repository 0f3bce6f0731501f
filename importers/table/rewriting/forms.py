"""Which form a file has, by its first lines, and the file rewritten."""

from __future__ import annotations

import re
from collections.abc import Callable

from analyser.core.findings import say
from importers.refusal import Refusal
from importers.table.codes import TableCode
from importers.table.rewriting.beside import beside, seems_beside
from importers.table.rewriting.named import named, seems_named
from importers.table.rewriting.plain import DELIMITERS, Unread
from importers.table.rewriting.source import Rewritten, whole_text
from importers.table.rewriting.titled import seems_titled, titled
from importers.table.rewriting.turned import seems_turned, turned
from importers.table.source import Source

_WRAPPED = re.compile(r'"=""([^"\n]*)"""|="([^"\n]*)"')
"""A text as a spreadsheet writes it so that it stays one: ="8.21", and the same in quotes of its own."""
FORMS: tuple[tuple[Callable[[str], bool], Callable[[str], str | None], TableCode], ...] = (
    (seems_turned, turned, TableCode.TURNED),
    (seems_titled, titled, TableCode.TITLED),
    (seems_beside, beside, TableCode.BESIDE),
    (seems_named, named, TableCode.NAMED),
)
"""Whether a file's first lines seem to have a form, what makes a plain table of it, and how that is told."""


def rewritten(origin: Source, text: str, *, whole: bool) -> Rewritten | None:
    """The same log as a plain table, where its first lines show that it must be rewritten; else None.

    Parameters
    ----------
    text : str
        The first lines; ``whole`` says that these are all.

    Raises
    ------
    Refusal
        If it must be, and is too large.
    """
    if isinstance(origin, Rewritten):
        return None
    unwrapped: Rewritten | None = None
    if "=" in text and '="' in text and len(_WRAPPED.findall(text)) > text.count("\n") // 2:
        text, whole = (text if whole else whole_text(origin)), True
        text = _WRAPPED.sub(_unwrapped, text)
        unwrapped = Rewritten(origin, text, say(TableCode.UNWRAPPED))
    for seems, make, code in FORMS:
        if seems(text):
            try:
                made = make(text if whole else whole_text(origin))
            except Unread as why:
                raise Refusal(origin.name, why.code, **why.values) from None
            if made is not None:
                return Rewritten(unwrapped or origin, made, say(code))
    return unwrapped


def _unwrapped(found: re.Match[str]) -> str:
    inner = found[1] if found[1] is not None else found[2]
    return f'"{inner}"' if any(c in inner for c in DELIMITERS) else inner

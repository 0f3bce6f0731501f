"""What an import noted of a flight, as it is stored: codes with what fills them, so that any language can say it."""

from __future__ import annotations

import json
from collections.abc import Iterable

from analyser.core.findings import Finding, Text


def to_json(texts: Iterable[Text]) -> str:
    """Encode findings and plain sentences, which earlier versions stored."""
    from spooldown.logbook.codec import finding_out

    return json.dumps(
        [json.loads(finding_out(t)) if isinstance(t, Finding) else str(t) for t in texts], ensure_ascii=False
    )


def from_json(stored: str) -> tuple[Text, ...]:
    """Decode what was stored; plain sentences stay what they are.

    Raises
    ------
    ValueError, KeyError
        If it is no list of them.

    Examples
    --------
    >>> from_json('["40 rows left out", {"code": "import.read.cut_line", "values": {"line": 7}}]')
    ('40 rows left out', Finding(import.read.cut_line, line=7))
    """
    found = json.loads(stored)
    if not isinstance(found, list):
        raise ValueError("no list")
    return tuple(_text(item) for item in found)


def _text(item: object) -> Text:
    if not isinstance(item, dict):
        return str(item)
    from spooldown.logbook.codec import finding_in

    return finding_in(json.dumps(item))

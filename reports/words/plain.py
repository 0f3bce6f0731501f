"""The plainest texts of the catalogue, said without loading all of it: a command that has nothing to do is quick."""

from __future__ import annotations

import functools
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from reports.words.reader import reader

_FILE = "commands.toml"
_VALUE = re.compile(r"\{\{ (\w+) \}\}")


def plain(code: str, values: Mapping[str, Any]) -> str | None:
    """Say what a command prints, where its text only puts names and counts in places; None where it does more.

    Examples
    --------
    >>> plain("cli.pages_built", {"written": 3, "kept": 0, "removed": 1})
    '3 pages written, 0 unchanged, 1 removed.'
    >>> plain("cli.removed", {"flights": ("a",)}) is None
    True
    """
    text = _texts(reader().language)
    for step in code.split("."):
        text = text.get(step, {}) if isinstance(text, Mapping) else {}
    if not isinstance(text, str) or not all(isinstance(v, str | int) for v in values.values()):
        return None
    said = _VALUE.sub(lambda m: str(values.get(m[1], m[0])), text)
    return said if "{{" not in _VALUE.sub("", text) and "{%" not in text else None


@functools.cache
def _texts(language: str) -> Any:
    return tomllib.loads((Path(__file__).parent / language / _FILE).read_text("utf-8"))

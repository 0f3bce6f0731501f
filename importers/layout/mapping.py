"""A saved mapping: which column is which channel, in a small TOML a person can edit, recognised by its headings."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.core.channels import EXTRA, TIME, parse
from importers.refusal import Refusal

if TYPE_CHECKING:
    from importers.model import Plan

_KEYS = ("name", "fingerprint", "columns", "answers")


@dataclass(frozen=True, slots=True)
class Mapping:
    """``columns``: heading → channel ('' to drop it); ``answers``: settled questions."""

    name: str
    fingerprint: str
    columns: dict[str, str] = field(default_factory=dict)
    answers: dict[str, str] = field(default_factory=dict)


def to_toml(plan: Plan, name: str) -> str:
    """Write a plan's mapping as TOML; columns that hold nothing stay open for a log in which they do."""
    import tomli_w

    columns = {c.heading: c.channel for c in plan.columns if c.heading and c.channel != TIME and not c.empty}
    content: dict[str, Any] = {"name": name, "fingerprint": plan.fingerprint, "columns": columns}
    if plan.answers:
        content["answers"] = dict(plan.answers)
    return tomli_w.dumps(content)


def load(path: Path) -> Mapping:
    """Read a mapping.

    Raises
    ------
    Refusal
        If it is no TOML, has a key that does not exist (the nearest is offered) or names no channel.
    """
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise Refusal(str(path), found=f"no readable TOML ({error})", expected="a mapping", remedy="mend it") from None
    for key in content:
        if key not in _KEYS:
            near = difflib.get_close_matches(key, _KEYS, 1)
            raise Refusal(str(path), column=key, found="a key that does not exist", expected=", ".join(_KEYS),
                          remedy=f"did you mean {near[0]!r}" if near else "remove it")  # fmt: skip
    columns, answers = content.get("columns", {}), content.get("answers", {})
    for key, table in (("columns", columns), ("answers", answers)):
        if not isinstance(table, dict) or not all(isinstance(v, str) for v in table.values()):
            raise Refusal(str(path), column=key, found="something else", expected="a table of texts", remedy="mend it")
    for heading, channel in columns.items():
        if channel and not channel.startswith(f"{EXTRA}.") and parse(channel) is None:
            raise Refusal(str(path), column=heading, found=f"{channel!r}", expected="a channel such as pack.rx1.voltage_v",  # noqa: E501
                          remedy="mend the name, or use extra.NAME or an empty text")  # fmt: skip
    return Mapping(str(content.get("name", path.stem)), str(content.get("fingerprint", "")), columns, answers)


def recognise(paths: Sequence[Path], fingerprint: str) -> Mapping | None:
    """Return the first mapping made for these headings; one without a fingerprint fits every file."""
    return next((m for m in map(load, paths) if m.fingerprint in ("", fingerprint)), None)

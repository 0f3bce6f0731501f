"""The guide's table of channels, from the vocabulary: ``python -m tests.importers.channels_page`` rewrites it."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

from analyser.core.channels import VOCABULARY, Between

PAGE = Path(__file__).parents[2] / "docs" / "channels.md"
_TITLES = {
    "pack": "Packs", "bus": "Buses", "fuel": "Fuel", "engine": "Turbines", "link": "Radio link, upwards",
    "downlink": "Radio link, downwards", "position": "Where", "attitude": "Which way up", "motion": "How fast",
    "air": "Air", "control": "What the pilot commanded",
}  # fmt: skip
_BETWEEN = {
    Between.CONTINUOUS: "a quantity", Between.HOLD: "a state that holds", Between.COUNTER: "a count or total",
}  # fmt: skip
_HEAD = """# Channels

What a column of a log may be, for `--column 'HEADING=CHANNEL'`, for mapping files and for anyone who reads the Parquet
files. NAME is what you call the pack, tank, engine or receiver (`rx1`, `ecu_left`, `main`); N the number of a cell or
antenna. An antenna whose name is no number has one by its order in the log, and the flight keeps the name
(`antenna.<receiver>.<number>`). Anything else may be kept as `extra.NAME`.

This page is made from the vocabulary in `analyser/core/channels.py` by `python -m tests.importers.channels_page`.
"""


def page() -> str:
    """The page as Markdown."""
    out = [_HEAD]
    for subject, some in groupby(VOCABULARY, key=lambda c: c.subject):
        out += [
            f"## {_TITLES[subject]}",
            "",
            "| channel | unit | in plain words | is | from | to |",
            "| --- | --- | --- | --- | --: | --: |",
        ]
        for c in some:
            name = f"{c.subject}.{'NAME.' if c.has_instance else ''}{c.quantity.replace('<n>', 'N')}"
            unit = {"1": "a number", "bool": "yes or no", "counts": "the maker's counts"}.get(c.unit, c.unit)
            out.append(f"| `{name}` | {unit} | {c.label} | {_BETWEEN[c.between]} | {c.low:g} | {c.high:g} |")
        out.append("")
    return "\n".join(out)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")

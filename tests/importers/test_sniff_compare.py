"""Ours and clevercsv's sniffing side by side: not worse on our ground, and the handbook shows what is measured."""

from pathlib import Path

import pytest

from tests.importers import sniff_compare

GUIDE = Path(__file__).parents[2] / "docs" / "import.md"


@pytest.fixture(scope="module")
def verdicts():
    return sniff_compare.measure()


@pytest.mark.parametrize("of", [0, 1], ids=["delimiter", "header"])
def test_not_worse_on_telemetry(verdicts, of):
    by_group: dict[str, list[int]] = {}
    for v in verdicts:
        if not v.group.startswith(("other trades", "general")):
            mine = by_group.setdefault(v.group, [0, 0])
            mine[0] += v.ours[of]
            mine[1] += v.theirs[of]
    assert sum(b for _, b in by_group.values()) > 30
    assert all(a >= b for a, b in by_group.values()), by_group


def test_the_guide_shows_what_is_measured(verdicts):
    """Where this fails, put what ``python -m tests.importers.sniff_compare`` prints into the guide."""
    text = GUIDE.read_text(encoding="utf-8")
    assert sniff_compare.table(verdicts) in text
    assert sniff_compare.differences(verdicts) in text

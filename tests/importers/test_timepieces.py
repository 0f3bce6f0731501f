"""A third pool of clocks and shapes (:mod:`tests.importers.timepieces`): truth by rules that know no importer."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.importers.timepieces import score

SHARE = 3
"""Every third log is looked at here; ``python -m tests.importers.timepieces.score a`` looks at all of them."""


@pytest.mark.parametrize("hand", ["a", "b", "c"])
def test_every_sample_is_read_at_its_instant_or_the_log_is_asked_about(hand: str, tmp_path: Path) -> None:
    found = {log.name: score.judge(log, tmp_path) for log in list(score.logs(hand))[::SHARE]}
    allowed = ("right", "asked", "refused")
    assert {name: why for name, why in found.items() if why[0] not in allowed} == {}
    assert sum(outcome == "right" for outcome, _ in found.values()) >= 0.8 * len(found) > 10

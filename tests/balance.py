"""How the suite is spread over processors: the files that take longest first, and one worker more than there are.

A worker takes whole files, so that what a file's tests share is made once. Where a long file came last, all others
would wait for it. A worker that waits for a browser leaves its processor to another.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import pytest

EACH_S = 0.15
"""Seconds of an ordinary test, about."""
LONG_S = {
    "browser": 2.0, "desk": 0.6, "live": 0.4, "coverage": 2.0,
    "test_demo": 3.0, "test_fleet": 8.0, "test_nothing_lost": 1.3, "test_brief": 3.0, "test_fuel_fuzz": 8.0,
    "test_overview": 0.8, "test_one_flight": 0.6, "test_killed": 5.0, "test_programme": 0.6, "test_import_ways": 0.6,
    "test_batch": 0.8, "test_flight_text": 0.9, "test_aged_cells": 0.8, "test_aged_seasons": 0.8, "test_languages": 0.4,
    "test_reference_state": 0.3, "test_sample_logs": 0.3, "test_storage": 0.8,
}  # fmt: skip
"""Seconds a test, about, in the folders and files where tests take longer; a wrong one only costs balance."""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Workers for ``-n auto``."""
    return (os.cpu_count() or 1) + 1


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the longest files first where workers take them by the file."""
    if "PYTEST_XDIST_WORKER" in os.environ:
        items[:] = longest_first(items)


def longest_first(items: Sequence[pytest.Item]) -> list[pytest.Item]:
    """Sort tests by how long their file takes; those of one file stay together and in order."""
    count = Counter(item.path for item in items)

    def seconds(path: Path) -> float:
        return count[path] * LONG_S.get(path.stem, LONG_S.get(path.parent.name, EACH_S))

    return sorted(items, key=lambda item: (-seconds(item.path), str(item.path)))

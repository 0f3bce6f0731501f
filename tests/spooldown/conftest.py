import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(autouse=True, scope="session")
def _no_waiting_for_the_disk():
    """Only a power cut needs the waiting; what is written, and in which order, stays the same."""
    from spooldown.logbook import catalogue

    patch = pytest.MonkeyPatch()
    patch.setattr(os, "fsync", lambda handle: None)
    patch.setattr(catalogue, "SYNCHRONOUS", "OFF")
    yield
    patch.undo()


@pytest.fixture
def heron(tmp_path):
    """A logbook in which the example's aircraft and pack are registered, and nothing has flown yet."""
    from made import register_example

    from spooldown.logbook.book import Logbook

    with Logbook(tmp_path / "book") as book:
        register_example(book)
        yield book

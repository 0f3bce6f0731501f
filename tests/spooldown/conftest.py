import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(autouse=True, scope="session")
def _no_waiting_for_the_disk():
    """Only a power cut needs the waiting; what is written, and in which order, stays the same."""
    from spooldown.logbook import book

    patch = pytest.MonkeyPatch()
    patch.setattr(os, "fsync", lambda handle: None)
    patch.setattr(book, "SYNCHRONOUS", "OFF")
    yield
    patch.undo()

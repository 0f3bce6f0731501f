"""A process killed at random instants: nothing that was reported done is lost, and everything is whole."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

HARNESS = Path(__file__).parent / "killing.py"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")
def test_killed_at_random_instants():
    done = subprocess.run(
        [sys.executable, HARNESS, "24", "1"], capture_output=True, text=True, check=False, timeout=120
    )
    assert done.returncode == 0, done.stderr
    struck = json.loads(done.stdout.partition("\n")[2])
    assert sum(struck.values()) == 24
    assert sum(1 for n in struck.values() if n) >= 4

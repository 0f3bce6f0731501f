"""What comes first in the process that workers are forks of: loaded by its name, before all that they need."""

from __future__ import annotations

import atexit
import os
import shutil

from spooldown.work.cores import SOCKETS, collect_seldom, one_thread_each
from spooldown.work.lightly import load_lightly

one_thread_each()
collect_seldom()
load_lightly()

_PARENT = os.getppid()


def _clear(folder: str) -> None:
    """Remove the socket's folder where the parent was killed: else it does that itself."""
    if folder and os.getppid() != _PARENT:
        shutil.rmtree(folder, ignore_errors=True)


atexit.register(_clear, os.environ.pop(SOCKETS, ""))

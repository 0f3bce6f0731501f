"""What comes first in the process that workers are forks of: loaded by its name, before all that they need."""

from __future__ import annotations

import atexit
import os
import shutil

from spooldown.processes.cores import SOCKETS, collect_seldom, one_thread_each
from spooldown.processes.lightly import load_lightly

one_thread_each()
collect_seldom()
load_lightly()

# This process ends when its parent has ended or was killed. A parent that ends removes the socket's folder, too, and
# does not mind if it is gone.
atexit.register(shutil.rmtree, os.environ.pop(SOCKETS, ""), ignore_errors=True)

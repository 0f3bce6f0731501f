"""What comes first in the process that workers are forks of: loaded by its name, before all that they need."""

from __future__ import annotations

from spooldown.work.cores import collect_seldom, one_thread_each
from spooldown.work.lightly import load_lightly

one_thread_each()
collect_seldom()
load_lightly()

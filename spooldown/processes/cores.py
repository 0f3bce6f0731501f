"""How work is laid out over the machine's cores: a process a core, one thread for arithmetic in each, and few pauses.

A flight's matrices are tall and thin and gain nothing from more threads. A linear algebra library starts one a core all
the same, and they wait by turning: half of an analysis' processor time went into that, and processes side by side took
the cores from each other.
"""

from __future__ import annotations

import atexit
import gc
import os

_VARIABLES = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")

POOL_FROM = 4
"""With fewer items than this, handing them to processes costs more than it saves."""
COLD_FROM = 16
"""With fewer pages than this no process begins for them: it loads libraries for as long as twenty pages take."""


def available() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):  # fewer than there are, in a container or by `taskset`
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def one_thread_each() -> None:
    """Ask for one thread where nobody asked for another number; to be called before numpy and Arrow are loaded."""
    for name in _VARIABLES:
        os.environ.setdefault(name, "1")
    # An allocator that Arrow brings along and does not use: its thread alone would forbid to fork.
    os.environ.setdefault("JE_ARROW_MALLOC_CONF", "background_thread:false")


def give_memory_back() -> None:
    """Let Arrow ask the system for memory, where nobody said otherwise; to be called before it is loaded.

    Its own allocator keeps much of what a large table took: a fifth of what a build of ten thousand flights holds.
    """
    os.environ.setdefault("ARROW_DEFAULT_MEMORY_POOL", "system")


def collect_seldom() -> None:
    """Look for circular garbage after 500,000 new objects, not after 700: results are many small things that stay.

    A command that has one flight to work out never comes so far. Nor is everything looked through when the process
    ends, which took a fifth of such a command: what it holds goes with it.
    """
    gc.set_threshold(500_000, 50, 50)
    atexit.register(gc.freeze)

"""Work over many flights that begins anew where another process changes one of them meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from analyser.core.findings import Finding
from spooldown.problems import ChangedMeanwhile

P = ParamSpec("P")
T = TypeVar("T")

TRIES = 5
"""So many times work begins; flights that are changed again and again stop it then."""


def begun_anew(told: Callable[[Finding], None] = lambda _: None) -> Callable[[Callable[P, T]], Callable[P, T]]:
    """Let a function that reads a logbook begin anew with the flights there are by now.

    It has to read them all itself, and may write or print only what may be done twice.

    Parameters
    ----------
    told : callable
        Told why, each time.

    Raises
    ------
    ChangedMeanwhile
        From the function: after some tries, what stopped it.
    """

    def wrap(function: Callable[P, T]) -> Callable[P, T]:
        @wraps(function)
        def again(*args: P.args, **more: P.kwargs) -> T:
            for _ in range(TRIES - 1):
                try:
                    return function(*args, **more)
                except ChangedMeanwhile as problem:
                    told(Finding("work.begun_anew", {"why": problem.what}))
            return function(*args, **more)

        return again

    return wrap

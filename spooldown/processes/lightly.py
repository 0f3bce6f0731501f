"""Libraries loaded without what a command never uses: testing aids, and documentation laid out as they load.

SciPy writes a paragraph into the documentation of some 250 functions while it loads, and copies all of NumPy's names,
which loads NumPy's Fortran tools; together that is a tenth of what a command takes that has one flight to work out.
Nothing is lost but those paragraphs. A library that is made in another way is loaded as it is.

Why a private class: SciPy (1.17) has no setting for it and writes those paragraphs even where Python runs without any
documentation (``python -OO``). NumPy's parts are put off by the standard library's own lazy loader.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from contextlib import suppress
from importlib.util import LazyLoader, find_spec, module_from_spec
from typing import Any

from spooldown.processes.cores import give_memory_back

LATER = ("f2py", "testing", "ctypeslib", "polynomial", "random", "fft")
"""Parts of NumPy that load when something of theirs is asked for."""


def load_lightly() -> None:
    """Ask for it; to be called by a command before Arrow or SciPy load, never where a person reads documentation."""
    give_memory_back()
    if "scipy" in sys.modules:
        return
    _later()
    with suppress(ImportError, AttributeError):
        import scipy._lib._docscrape as documentation

        setattr(documentation, "FunctionDoc", _AsItIs)  # noqa: B010


def _later() -> None:
    import numpy as np

    for part in LATER:
        name = f"{np.__name__}.{part}"
        spec = None if name in sys.modules else find_spec(name)
        if spec is None or spec.loader is None:
            continue
        spec.loader = LazyLoader(spec.loader)
        module = sys.modules[name] = module_from_spec(spec)
        spec.loader.exec_module(module)
        setattr(np, part, module)


class _AsItIs(defaultdict[str, Any]):
    """A function's documentation, whose sections nobody reads."""

    def __init__(self, function: Any, *_: Any, **__: Any) -> None:
        super().__init__(list)
        self._text = function.__doc__ or ""

    def __str__(self) -> str:
        return f"\n{self._text}"

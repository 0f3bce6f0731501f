"""The log recorded while a procedure was done."""

from __future__ import annotations

from pathlib import Path

from analyser.core.telemetry import Telemetry
from reports.words.catalogue import message
from spooldown.problems import UsageProblem


def read_one(path: Path, name: str = "") -> Telemetry:
    """Read a log of one procedure.

    Raises
    ------
    Refusal
        If it cannot be read, or leaves something open.
    UsageProblem
        If it holds several flights.
    """
    from spooldown.library import read_log

    logs = read_log(path)
    if len(logs) != 1:
        raise UsageProblem(message("bench_says.several", log=name or path.name, n=len(logs)))
    return logs[0]

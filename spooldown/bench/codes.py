"""Codes of refused bench sheets; the words are in the catalogue under the same names."""

from __future__ import annotations

from importers.refusal import Refused


class BenchRefused(Refused):
    """Why a bench sheet is refused."""

    NO_READING = "bench_sheet.no_reading"
    NO_PROCEDURE = "bench_sheet.no_procedure"
    EMPTY = "bench_sheet.empty"

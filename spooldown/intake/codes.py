"""Codes of files that cannot be imported; the words are in the catalogue under the same names."""

from __future__ import annotations

from importers.refusal import Refused


class IntakeRefused(Refused):
    """Why a file does not come into the logbook."""

    UNREADABLE = "intake.unreadable"
    TOO_LARGE = "intake.too_large"

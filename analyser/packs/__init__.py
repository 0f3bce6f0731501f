"""Packs of one flight: voltage, charge, resistance, and what one alone would carry; see :func:`analyse_packs`."""

from analyser.packs.analysis import PackResult, PacksResult, analyse_packs

__all__ = ["PackResult", "PacksResult", "analyse_packs"]

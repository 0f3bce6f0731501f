"""Walked range checks of Tern at reduced power: how far the owner got with each antenna, tail-on and from the side."""

from __future__ import annotations

import math

import numpy as np

from sample_logs.generator import scenario
from sample_logs.generator.radio import Aerial, Link, direct_gain, direction

REDUCTION_DB = 30.0
SIDES_DEG = {"tail to pilot": 180.0, "right side to pilot": 90.0}
# day, antenna of rx2, side, remarks
_WALKS = (
    ("2026-04-18", 1, "tail to pilot", "Invented. Walked at the strip's edge."),
    ("2026-04-18", 2, "tail to pilot", ""),
    ("2026-04-18", 2, "right side to pilot", ""),
    ("2026-05-10", 2, "tail to pilot", "Walked again because it was so short."),
    ("2026-06-20", 1, "tail to pilot", ""),
    ("2026-06-20", 2, "tail to pilot", ""),
    ("2026-07-04", 2, "tail to pilot", "Fin antenna moved up."),
    ("2026-07-04", 2, "right side to pilot", ""),
    ("2026-08-15", 1, "tail to pilot", ""),
    ("2026-08-15", 2, "tail to pilot", ""),
    ("2026-09-19", 1, "tail to pilot", ""),
    ("2026-09-19", 2, "tail to pilot", ""),
)


def mean_gain_db(aerial: Aerial, link: Link, azimuth_deg: float, elevation_deg: float) -> float:
    """Mean gain in one body direction: direct wave and diffuse scatter, dB over isotropic."""
    direct = float(direct_gain(aerial, direction(azimuth_deg, elevation_deg)[None, :])[0])
    return 10 * math.log10(direct + 10 ** (link.diffuse_db / 10))


def reach_m(link: Link, gain_db: float, reduction_db: float) -> float:
    """Where half of the frames are lost at reduced power: the link's budget solved for the distance (ITU-R P.525)."""
    spare_db = link.transmit_dbm - link.installation_db - reduction_db + gain_db - link.sensitivity_dbm
    return float(1000 * 10 ** ((spare_db - 32.4 - 20 * math.log10(link.mhz)) / 20))


def range_checks() -> list[dict[str, object]]:
    """What the owner wrote down; people and grass move it by half a decibel from one day to another."""
    rng = np.random.default_rng(20_260_418)
    link, rows = scenario.TERN_LINK, []
    for day, number, side, remarks in _WALKS:
        layout = "A" if day < scenario.MOVED_ON else "B"
        aerial = next(a for a in scenario.TERN_LAYOUTS[layout] if (a.receiver, a.number) == ("rx2", number))
        gain_db = mean_gain_db(aerial, link, SIDES_DEG[side], 0.0) + 0.5 * float(rng.standard_normal())
        rows.append(
            {
                "aircraft": "Tern",
                "day": day,
                "receiver": "rx2",
                "antenna": number,
                "distance_m": round(reach_m(link, gain_db, REDUCTION_DB)),
                "reduction_db": round(REDUCTION_DB),
                "orientation": side,
                "remarks": remarks,
            }
        )
    return rows

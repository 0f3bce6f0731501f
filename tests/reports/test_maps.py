"""Maps of body directions: weak is dark, never seen is neither, and the picture stays small."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from colorspacious import cspace_convert

from reports.figures.maps import colour, cuts, heat, scale_bar
from tests.reports import invented

MAP = invented.antenna_map("rx1.antenna1", "A", 12.0, "x")


def lightness(code: str, space: object = "sRGB255") -> float:
    rgb = [int(code[i : i + 2], 16) for i in (1, 3, 5)]
    seen = cspace_convert(rgb, space, "sRGB255") if space != "sRGB255" else rgb
    return float(cspace_convert(np.clip(seen, 0, 255), "sRGB255", "CAM02-UCS")[0])


@pytest.mark.parametrize("severity", [0, 100])
@pytest.mark.parametrize("kind", ["protanomaly", "deuteranomaly", "tritanomaly"])
def test_brightness_rises_for_every_eye(kind: str, severity: int) -> None:
    """Simulated by colorspacious (Machado, Oliveira and Fernandes 2009)."""
    space = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": severity}
    shades = []
    for share in np.linspace(0, 1, 9):
        rgb = np.array([int(colour(share)[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
        shades.append(cspace_convert(np.clip(cspace_convert(rgb, space, "sRGB1"), 0, 1), "sRGB1", "CAM02-UCS")[0])
    assert (np.diff(shades) > 2.0).all()


def test_every_bin_seen_is_drawn_and_no_other() -> None:
    gain = MAP.gain_db.copy()
    gain[0, 0] = np.nan
    svg = heat(replace(MAP, gain_db=gain), -15.0, 3.0, worse_is_high=False, label="<x>")
    assert len(re.findall('fill="#', svg)) == int(np.isfinite(gain).sum())
    assert svg.count('fill="url(#unseen)"') == 1
    assert "&lt;x&gt;" in svg
    assert len(svg) < 60_000


def test_worse_is_dark_whichever_way_the_unit_counts() -> None:
    gain = np.full_like(MAP.gain_db, np.nan)
    gain[3, 3], gain[4, 3] = 1.0, 9.0
    for worse_is_high, dark in ((False, 0), (True, 1)):
        svg = heat(replace(MAP, gain_db=gain), 0.0, 10.0, worse_is_high=worse_is_high, label="x")
        shades = [lightness(code) for code in re.findall(r'fill="(#[0-9a-f]{6})"', svg)]
        assert int(np.argmin(shades)) == dark


def test_a_cut_is_broken_where_nothing_was_seen() -> None:
    gain = MAP.gain_db.copy()
    gain[5] = np.nan
    svg = cuts([("measured", replace(MAP, gain_db=gain), False), ("planned", MAP, True)], -20.0, 3.0, "x")
    assert svg is not None
    first, second = re.findall(r'<path d="(M[^"]*L[^"]*)" class="curve', svg)
    assert first.count("M") == 2
    assert second.count("M") == 1
    assert cuts([("x", replace(MAP, gain_db=np.full_like(gain, np.nan)), False)], -20.0, 3.0, "x") is None
    assert "never seen" in scale_bar("dB", -20.0, 3.0, worse_is_high=False)

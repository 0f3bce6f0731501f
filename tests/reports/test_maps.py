"""Maps of body directions: weak is dark, never seen is neither, and the picture stays small."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from colorspacious import cspace_convert
from msgspec.structs import replace

from analyser.link.difference import map_difference
from reports import render
from reports.figures.maps import colour, colours, cuts, heat, scale_bar
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


@pytest.mark.parametrize("severity", [0, 100])
@pytest.mark.parametrize("kind", ["protanomaly", "deuteranomaly", "tritanomaly"])
def test_worse_and_better_look_apart_to_every_eye(kind: str, severity: int) -> None:
    """Simulated by colorspacious (Machado, Oliveira and Fernandes 2009); apart as Luo, Cui and Li (2006) count it."""
    space = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": severity}

    def seen(code: str) -> np.ndarray:
        rgb = np.array([int(code[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
        return np.asarray(cspace_convert(np.clip(cspace_convert(rgb, space, "sRGB1"), 0, 1), "sRGB1", "CAM02-UCS"))

    scale = [seen(code) for code in colours(change=True, steps=9)]
    nothing = scale[4]
    for worse, better in zip(scale[:3], scale[:5:-1], strict=True):
        assert np.linalg.norm(worse - better) > 20  # some 2 are just seen
        assert np.linalg.norm(worse - nothing) > 15
        assert np.linalg.norm(better - nothing) > 15
    steps = [np.linalg.norm(a - b) for a, b in pairwise(scale)]
    assert min(steps) > 4


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_never_seen_is_told_from_the_weakest(scheme: str) -> None:
    """A hatched bin shows the page's card and its soft ink; the weakest bin is one dark colour without lines."""
    css = (Path(render.__file__).parent / "assets" / "style.css").read_text("utf-8")
    part = css.partition("@media screen and (prefers-color-scheme: dark)")[2 if scheme == "dark" else 0]
    soft, paper = (re.search(rf"--{name}: (#[0-9a-f]{{6}})", part)[1] for name in ("soft", "paper"))  # type: ignore[index]
    weakest = lightness(colour(0.0))
    assert abs(lightness(soft) - weakest) > 25, "the hatching's lines stand out from the weakest colour"
    assert abs(lightness(soft) - lightness(paper)) > 25, "and from the ground between them"


def test_a_change_says_where_it_is_sure() -> None:
    before, after = MAP, replace(MAP, gain_db=MAP.gain_db.copy())
    after.gain_db[5, 5] += 9.0
    after.gain_db[7, 2] -= 9.0
    change = map_difference(replace(after, low_db=after.gain_db - 1, high_db=after.gain_db + 1), before)
    assert change is not None
    svg = heat(change, -9.0, 9.0, worse_is_high=False, label="x", change=True)
    signs = re.findall(r'<path d="([^"]*)" class="sign"/>', svg)
    assert len(signs) == 2
    assert sum("v6" in s for s in signs) == 1, "one plus, one minus"

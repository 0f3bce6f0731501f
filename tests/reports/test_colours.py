"""Colours of the style sheet: enough contrast in both schemes, and curves apart for every eye.

Contrast by WCAG 2.2 (relative luminance; 1.4.3 for text, 1.4.11 for what a picture needs to be understood); colour
vision by colorspacious (Machado, Oliveira and Fernandes 2009) in CAM02-UCS (Luo, Cui and Li 2006).
"""

from __future__ import annotations

import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from colorspacious import cspace_convert

from reports import render

ASSETS = Path(render.__file__).parent / "assets"
SCHEMES = ("light", "dark")


def colours(scheme: str) -> dict[str, str]:
    css = (ASSETS / "style.css").read_text("utf-8")
    light, _, rest = css.partition("@media screen and (prefers-color-scheme: dark)")
    first = dict(re.findall(r"--([\w]+): (#[0-9a-f]{6})", light))
    return (
        first if scheme == "light" else first | dict(re.findall(r"--([\w]+): (#[0-9a-f]{6})", rest.partition("}")[0]))
    )


def rgb(code: str) -> np.ndarray:
    return np.array([int(code[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0


def contrast(one: str, other: str) -> float:
    def luminance(code: str) -> float:
        c = rgb(code)
        linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
        return float(linear @ [0.2126, 0.7152, 0.0722])

    a, b = sorted((luminance(one), luminance(other)))
    return (b + 0.05) / (a + 0.05)


def test_the_formula_is_that_of_the_standard() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)  # the well-known lightest grey that passes


@pytest.mark.parametrize("scheme", SCHEMES)
def test_words_stand_out(scheme: str) -> None:
    c = colours(scheme)
    for ground in ("paper", "card", "tint"):
        for name in ("ink", "soft", "accent", "act", "watch", "note", "fine"):
            assert contrast(c[name], c[ground]) >= 4.5, (name, ground)


@pytest.mark.parametrize("scheme", SCHEMES)
def test_curves_stand_out(scheme: str) -> None:
    c = colours(scheme)
    for name in ("c0", "c1", "c2", "c3", "c4", "c5"):
        for ground in ("paper", "card"):
            assert contrast(c[name], c[ground]) >= 3.0, (name, ground)


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("kind", ["protanomaly", "deuteranomaly", "tritanomaly"])
def test_the_first_curves_are_apart_for_every_eye(scheme: str, kind: str) -> None:
    """Two curves that look alike would also have their dash and their mark to be told by, from the fifth on."""
    c = colours(scheme)

    def seen(code: str, severity: int) -> np.ndarray:
        space = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": severity}
        return np.asarray(
            cspace_convert(np.clip(cspace_convert(rgb(code), space, "sRGB1"), 0, 1), "sRGB1", "CAM02-UCS")
        )

    for severity in (0, 100):
        for one, other in combinations(("c0", "c1", "c2"), 2):
            assert np.linalg.norm(seen(c[one], severity) - seen(c[other], severity)) > 8, (one, other, severity)


def test_plots_use_the_same_colours() -> None:
    script = (ASSETS / "plots.js").read_text("utf-8")
    for scheme, name in (("light", "LIGHT"), ("dark", "DARK")):
        found = re.search(rf"const {name} = \{{c: \[([^\]]*)\]", script)
        assert found
        listed = re.findall(r"#[0-9a-f]{6}", found[1])
        c = colours(scheme)
        assert listed[:6] == [c[f"c{k}"] for k in range(6)]

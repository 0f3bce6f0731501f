"""A pack's label carries its name for a person and for a phone."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import segno

from reports.pages.labels import code_of
from reports.site import build_site
from tests.reports import invented


@pytest.mark.parametrize("name", ["R2", "Akku Ä <b>", "x" * 60])
def test_the_code_is_the_names_and_has_a_quiet_zone(name: str) -> None:
    """The dark modules drawn are those of ISO/IEC 18004 for this text, as segno's matrix has them."""
    svg = code_of(name)
    width = int(re.search(r'viewBox="0 0 (\d+) (\d+)"', svg)[1])
    matrix = np.array([list(row) for row in segno.make(name, error="m", micro=False).matrix])
    assert width == matrix.shape[0] + 4
    drawn = sum(int(n) for n in re.findall(r"h(\d+)", svg))
    assert drawn == int(matrix.sum())
    assert "<b>" not in svg
    assert "style=" not in svg


def test_every_pack_has_a_label(tmp_path: Path) -> None:
    build_site(invented.site(2), tmp_path)
    text = (tmp_path / "labels.html").read_text("utf-8")
    assert text.count('class="qr"') == len(invented.site(2).season.packs)
    assert 'href="labels.html"' in (tmp_path / "field-sheet.html").read_text("utf-8")

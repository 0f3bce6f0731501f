"""A pack's verdict says what its figures hold: near, perhaps beyond, beyond, open. No source: the words' meaning."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.core.figures import Figure, Method
from analyser.core.levels import Level
from analyser.season.packs.brown_outs import BrownOuts
from analyser.season.packs.codes import SeasonPackCode
from analyser.season.packs.retirement import Limit
from analyser.season.packs.verdict import judge
from reports.words.catalogue import text
from tests.claims import untrue

NO_BROWN_OUTS = BrownOuts((), 0, False, 0, 0, 0, 1, judged=True, bus_logged=True)
NO_FORECAST = Figure.unavailable("to go", "flights", "none")


def capacity(low: float, value: float, high: float) -> Limit:
    return Limit(
        of=SeasonPackCode.CAPACITY, what=SeasonPackCode.OF_LABEL, rule=SeasonPackCode.YOUR_PERCENT,
        now=Figure("now", value, "%", Method.ESTIMATED, low=low, high=high, digits=0), limit=80.0, fresh=100.0,
        values=np.empty(0), trend=NO_FORECAST, scale=1.0,
    )  # fmt: skip


def resistance(half: float, value: float) -> Limit:
    return Limit(
        of=SeasonPackCode.RESISTANCE, what=SeasonPackCode.TIMES_NEW, rule=SeasonPackCode.YOUR_RATIO,
        now=Figure.within("now", value, half, "×", digits=1), limit=2.0, fresh=1.0, values=np.empty(0),
        trend=NO_FORECAST, scale=1.0, digits=1,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("held", "level", "words"),
    [
        ((93.0, 95.0, 97.0), Level.FINE, ""),
        ((81.0, 82.0, 84.0), Level.WATCH, "near your 80"),
        ((45.0, 79.0, 100.0), Level.CANT_TELL, "on both sides of your 80"),
        ((62.0, 110.0, 112.0), Level.CANT_TELL, "on both sides of your 80"),
        ((70.0, 83.0, 94.0), Level.CANT_TELL, "on both sides of your 80"),
        ((65.0, 75.0, 85.0), Level.WATCH, "includes it"),
        ((60.0, 65.0, 70.0), Level.ACT, "whole interval"),
    ],
)
def test_words_and_level_follow_the_interval(held: tuple[float, float, float], level: Level, words: str) -> None:
    found = judge([capacity(*held), resistance(0.05, 1.1)], NO_BROWN_OUTS, None, NO_FORECAST)
    assert found.level is level
    said = text(found.sentence("X", 12))
    assert words in said
    assert untrue(found.reasons, found.open) == []


def test_a_watched_pack_shows_the_figure_that_its_reason_is_about() -> None:
    near = capacity(81.0, 82.0, 84.0)
    found = judge([near, resistance(0.05, 1.1)], NO_BROWN_OUTS, None, NO_FORECAST)
    assert found.figure == near.now
    assert "capacity" in text(found.reasons[0])


def test_a_pack_to_retire_still_names_what_is_open() -> None:
    found = judge([capacity(45.0, 76.0, 99.0), resistance(0.1, 2.6)], NO_BROWN_OUTS, None, NO_FORECAST)
    assert found.level is Level.ACT
    assert [("resistance" in text(r), "both sides" in text(r)) for r in found.reasons] == [(True, False), (False, True)]
    # What is beyond by itself is not called open, too.
    found = judge([capacity(45.0, 60.0, 70.0), resistance(0.1, 2.6)], NO_BROWN_OUTS, None, NO_FORECAST)
    assert len(found.reasons) == 2
    assert not any("both sides" in text(r) for r in found.reasons)

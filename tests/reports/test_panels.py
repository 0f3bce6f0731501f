"""Packs of different voltage have an axis of their own; a pack and its load-free voltage stay together."""

from __future__ import annotations

import numpy as np

from reports.figures.panels import Panel, by_level


def panel(levels: dict[str, float]) -> Panel:
    made = Panel("plot-0", "Pack voltage", "V", "pack", frozenset({"pack"}))
    for name, level in levels.items():
        made.add(name, {"n": f"{name} without load", "dash": True}, np.full(5, level + 0.1))
        made.add(name, {"n": name}, np.array([level, np.nan, level]))
    return made


def test_eight_and_twelve_volts_are_apart() -> None:
    parts = by_level(panel({"R1": 8.0, "E1": 12.3, "R2": 7.6, "E2": 12.1}))
    assert [p.title for p in parts] == ["Pack voltage: R1, R2", "Pack voltage: E1, E2"]
    assert [len(p.series) for p in parts] == [4, 4]
    assert len({p.id for p in parts}) == 2


def test_packs_of_one_voltage_share_an_axis() -> None:
    assert len(by_level(panel({"R1": 8.1, "R2": 6.9}))) == 1

"""Spoilt logs the whole way to pages and exports: fixed seeds here, as many as wanted by ``make fuzz-path``."""

from __future__ import annotations

import pytest

from analyser.core.figures import Figure, Method
from tests.fuzz import whole_path

FOUND: tuple[int, ...] = ()
"""Seeds that once broke something."""


@pytest.mark.parametrize("first", [1000, *FOUND])
def test_spoilt_logs_go_the_whole_way(first: int) -> None:
    assert list(whole_path.fly(range(first, first + 7))) == []


def test_the_checks_see_what_they_are_for() -> None:
    shown = list(whole_path.no_numbers("<p>Left: nan mL</p><script type='application/json'>{\"a\": NaN}</script>"))
    assert len(shown) == 2
    assert list(whole_path.no_numbers("<p>Nancy, in flight, information: 3.1 mL</p>")) == []
    hot = Figure("egt", 4000.0, "°C", Method.MEASURED)
    assert list(whole_path._beyond("turbine.engines.main.max_egt_c", hot, {}))
    full = Figure("left", 5000.0, "mL", Method.ESTIMATED)
    assert list(whole_path._beyond("fuel.tanks.main.content.left", full, {"main": 3800.0}))
    assert not list(whole_path._beyond("fuel.tanks.main.content.left", full, {"main": 4900.0}))


def test_seeds_make_the_same_log_and_spoil_it() -> None:
    assert whole_path.spoilt(7) == whole_path.spoilt(7)
    assert len({whole_path.spoilt(seed)[1] for seed in range(20)}) > 15

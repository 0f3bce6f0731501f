"""Order statistics made without the library's checks give what the library gives."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from analyser.core.statistics.robust import quantiles


@given(
    st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40), st.lists(st.floats(0.0, 1.0), min_size=1, max_size=4)
)  # fmt: skip
def test_quantiles_as_numpy_gives_them(values: list[float], shares: list[float]) -> None:
    """Source: numpy's quantile, to the last digit."""
    assert quantiles(np.array(values), *shares) == tuple(np.quantile(values, shares))


def test_a_quantile_beside_no_number_is_none() -> None:
    assert np.isnan(quantiles(np.array([1.0, np.nan, 2.0]), 0.5)).all()

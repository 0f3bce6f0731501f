"""Figures: never bare, never guessed, and found wherever a result holds them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import Struct

from analyser.core.figures import Figure, FloatArray, Method, figures_of, values_of
from reports.words.catalogue import figure_text


def fig(value: float, label: str = "x") -> Figure:
    return Figure(label, value, "mL", Method.MEASURED)


class Part(Struct, frozen=True):
    name: str
    burned: Figure


class Nameless(Struct, frozen=True):
    seen: Figure


class Whole(Struct, frozen=True):
    first: Figure
    maybe: Figure | None
    parts: tuple[Part, ...]
    others: tuple[Nameless, ...]
    by_role: dict[str, Figure]
    curve: FloatArray
    word: str = "text"


def test_every_figure_is_found_once_in_order_with_its_path() -> None:
    whole = Whole(
        fig(1),
        None,
        (Part("left", fig(2)), Part("right", fig(3))),
        (Nameless(fig(4)), Nameless(fig(5))),
        {"rx1": fig(6)},
        np.ones(3),
    )
    assert [(path, f.value) for path, f in figures_of(whole)] == [
        ("first", 1),
        ("parts.left.burned", 2),
        ("parts.right.burned", 3),
        ("others.0.seen", 4),
        ("others.1.seen", 5),
        ("by_role.rx1", 6),
    ]


def test_a_figure_by_itself_and_nothing_at_all() -> None:
    assert list(figures_of(fig(1))) == [("", fig(1))]
    assert list(figures_of("words")) == []
    assert list(figures_of(Whole)) == []


def test_no_value_without_a_reason() -> None:
    with pytest.raises(ValueError, match="neither a value nor a reason"):
        Figure("x", None, "mL", Method.NONE)
    gone = Figure.unavailable("x", "mL", "no flow sensor; a fuel flow channel would supply it")
    assert gone.value is None
    assert gone.method is Method.NONE
    assert figure_text(gone) == "not available"


def test_text_as_read() -> None:
    assert figure_text(Figure("x", 1234.56, "mL", Method.MEASURED)) == "1\u202f234.6\u00a0mL"
    assert figure_text(Figure("x", 3.0, "", Method.MEASURED, digits=0)) == "3"
    estimate = Figure("x", 212.4, "mL/min", Method.ESTIMATED, 198.0, 226.1)
    assert figure_text(estimate) == "212.4\u00a0mL/min (198.0 to 226.1, 95 %)"
    assert repr(estimate) == "Figure(x: 212.4 mL/min [198.0, 226.1])"
    wide = Figure("x", 2e3, "mL", Method.ESTIMATED, 1e3, 3e3, digits=0)
    assert figure_text(wide) == "2\u202f000\u00a0mL (1\u202f000 to 3\u202f000, 95 %)"
    assert estimate.half_width == pytest.approx(14.05)
    assert fig(1).half_width == 0.0


@given(st.lists(st.sampled_from(["a", "b", "c"])), st.lists(st.sampled_from(["a", "b", "c"])))
def test_doubts_are_kept_once_each_in_order(first: list[str], second: list[str]) -> None:
    doubts = fig(1).with_doubt(*first).with_doubt(*second).doubts
    assert set(doubts) == {*first, *second}
    assert len(set(doubts)) == len(doubts)
    assert list(doubts) == sorted(doubts, key=(first + second).index)


def test_values_of_marks_the_absent() -> None:
    assert np.array_equal(
        values_of([fig(1), Figure.unavailable("x", "mL", "-"), fig(3)]), [1, np.nan, 3], equal_nan=True
    )
    assert values_of([]).shape == (0,)

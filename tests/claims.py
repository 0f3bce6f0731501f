"""Sentences that claim a relation between figures, and what must be true of the figures they are given.

Every text of the analyser's rooms that holds one of :data:`WORDS` stands either in :data:`CLAIMS`, with its rule, or in
:data:`NO_RELATION`, because it names a figure, a method or a place and relates nothing. A rule sees the values as
printed, so that "6.00 V, below 6.00 V" is as wrong as a number on the wrong side.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from msgspec import Struct

from analyser.core.figures import Figure
from analyser.core.findings import Finding

ROOT = Path(__file__).resolve().parents[1]
ROOMS = ("core", "fuel", "season_fuel", "season", "packs", "link", "engines", "headline")
WORDS = re.compile(
    r"\b(within|whole interval|deepest|longest|highest|lowest|never|always|covers?|at most|at least|steady|steadily|"
    r"rising|falling|more than|less than|below|above|weaker|beyond|no direction|alike|perhaps|longer than|farther|"
    r"none of|near|both sides|includes|stands out|too few|already)\b",
    re.I,
)
Rule = Callable[[Mapping[str, Any]], bool]


def shown(value: float, digits: int) -> float:
    """A number as it is printed."""
    return round(float(value), digits)


def _figure(figure: Any) -> Figure:
    assert isinstance(figure, Figure)
    return figure


def _value(figure: Any) -> float:
    value = _figure(figure).value
    assert value is not None
    return value


def _nought_in(figure: Any) -> bool:
    f = _figure(figure)
    return f.low is not None and f.high is not None and f.low <= 0.0 <= f.high


def _is_nought_out(v: Mapping[str, Any], name: str) -> bool:
    return abs(_value(v[name])) >= v["within"] - 1e-9


def _beyond(v: Mapping[str, Any]) -> bool:
    """The whole interval on one side of the limit that is written."""
    limit, digits = v["rule"].values["limit"], v["digits"]
    low, high = shown(v["low"], digits), shown(v["high"], digits)
    return bool(low >= shown(limit, digits) if v["above"] else high <= shown(limit, digits))


def _perhaps(v: Mapping[str, Any]) -> bool:
    """The value beyond the limit, the interval on both sides of it."""
    limit, value = v["rule"].values["limit"], v["what"].values["value"]
    return bool(v["low"] <= limit <= v["high"] and (value >= limit if v["above"] else value <= limit))


def _near(v: Mapping[str, Any]) -> bool:
    """The whole interval short of the limit."""
    limit = v["rule"].values["limit"]
    return bool(v["high"] <= limit if v["above"] else v["low"] >= limit)


def _range_check(v: Mapping[str, Any]) -> bool:
    change = _figure(v["change"])
    assert change.low is not None
    assert change.high is not None
    assert change.value is not None
    return change.low <= change.value <= change.high < 0.0


CLAIMS: dict[str, Rule] = {
    "core.gathered": lambda v: v["times"] >= 2 and (not v["side"] or v["sides"] == 1),
    "core.trend_needs": lambda v: v["there"] < v["fewest"],
    "fuel.from_stated_curve": lambda v: v["within"] > 0,
    "fuel.never_checked": lambda v: v["within"] > 0,
    "fuel.prior": lambda v: v["within"] > 0,
    "fuel.landed_below": lambda v: _value(v["margin"]) < 0,
    "fuel.landed_near": lambda v: _value(v["margin"]) >= 0 and _nought_in(v["margin"]),
    "fuel.burned_more": lambda v: _is_nought_out(v, "by"),
    "fuel.reads_more": lambda v: shown(abs(_value(v["by"])), 1) > 0,
    "fuel.burn_alike": lambda v: v["within"] > 0,
    "season.fuel.step_how": lambda v: 0.0 <= v["chance"] <= 1.0,
    "season.fuel.reads_more": lambda v: v["percent"] > 0 and v["within"] > 0,
    "season.fuel.alike": lambda v: shown(v["within"], 1) > 0,
    "season.fuel.burns_more": lambda v: shown(v["percent"], 1) > 0 and v["percent"] > v["within"],
    "season.fuel.burn_steady": lambda v: v["low"] <= 0.0 <= v["high"],
    "season.fuel.burn_untold": lambda v: v["n"] < v["fewest"],
    "season.fuel.burns_more_since": lambda v: shown(v["percent"], 1) > 0 and v["before"] >= 0,
    "season.fuel.timer": lambda v: not v["beyond"] or _value(v["advised"]) > _value(v["longest"]),
    "season.below_reserve": lambda v: _value(v["margin"]) < 0,
    "packs.more_than_any": lambda v: v["percent"] > 100,
    "packs.negative": lambda v: v["current_a"] < 0 and 0 <= v["offset_a"] <= -v["current_a"] + 1e-9,
    "packs.above_cells": lambda v: shown(v["worst_v"], 1) >= shown(v["most_v"], 1) and v["samples"] > 0,
    "engines.too_fast": lambda v: shown(v["reached"], 0) > shown(v["limit"], 0),
    "packs.rest_impossible": lambda v: v["cell_v"] > 0,
    "packs.fell_below": lambda v: v["to_v"] < v["level_v"],
    "packs.never_checked": lambda v: v["within"] > 0,
    "packs.scale_prior": lambda v: v["within"] > 0,
    "season.packs.ask_later": lambda v: v["due"] > 0,
    "season.packs.ask_now": lambda v: v["low"] < 0 or v["low"] <= v["limit"] <= v["high"],
    "season.packs.few_capacities": lambda v: v["there"] < v["fewest"],
    "season.packs.beyond": _beyond,
    "season.packs.perhaps_beyond": _perhaps,
    "season.packs.near": _near,
    "season.packs.open": lambda v: v["low"] <= v["rule"].values["limit"] <= v["high"] and v["low"] < v["high"],
    "link.faded": lambda v: shown(v["below"], 0) > 0,
    "link.faded_to_share": lambda v: 0 <= v["below"] < 100,
    "link.thin_margin": lambda v: v["margin"] >= 0,
    "link.under_sensitivity": lambda v: shown(v["margin"], 1) > 0,
    "link.coverage": lambda v: 0 <= v["share"] <= 1,
    "link.null": lambda v: v["depth"] > 0 and not (v["low"] > v["depth"] or v["high"] < v["depth"]),
    "link.measured_map": lambda v: 0 <= v["seen"] <= 1 and v["null_db"] > 0,
    "link.counter_null": lambda v: v["usual"] >= 0,
    "layout.departs": lambda v: len(v["where"]) > 0,
    "layout.none_covers": lambda v: len(v["where"]) > 0,
    "layout.weaker_than_planned": lambda v: shown(v["weaker"], 0) > 0,
    "range_check.fell_earlier": _range_check,
    "range_check.fell_moved": _range_check,
    "range_check.beyond_implied": lambda v: v["flown_m"] > v["implied_m"],
    "range_check.beyond_cautious": lambda v: v["cautious_m"] < v["flown_m"] <= v["implied_m"],
    "range_check.within": lambda v: v["flown_m"] <= v["cautious_m"],
    "headline.landed": lambda v: (_value(v["margin"]) >= 0) == bool(v["above"]),
    "headline.landed_sentence": lambda v: (_value(v["margin"]) >= 0) == bool(v["above"]),
}  # fmt: skip
"""Code to what its values must satisfy."""

OF_FIGURES: dict[str, Callable[[Figure], bool]] = {
    # Beyond with the whole interval: no flight is left at either end of it.
    "season.packs.already_beyond": lambda f: f.value == 0.0 and f.low == 0.0 and f.high == 0.0,
    "season.packs.trend_to_limit": lambda f: f.value is not None and f.high is not None and f.high > 0.0,
}
"""Codes that say of a figure how it came about, and what must then be true of the figure."""

NO_RELATION = frozenset({
    "core.saturated", "core.pilot_from_before", "core.pilot_from_after", "core.pilot_from_begin", "fuel.margin",
    "fuel.from_learned_curve", "fuel.gauge_unchecked", "season.fuel.advised", "season.fuel.curve_spread_how",
    "season.fuel.too_few", "season.fuel.curve_spread", "packs.rate_ends", "range_check.cautious_how",
    "packs.lowest", "packs.lowest_cell", "packs.deepest_sag",
    "packs.failed_now", "packs.failed_before", "packs.lowest_sample_of_cell", "packs.above_reserve",
    "packs.survivor_now", "packs.survivor_throughout", "packs.bus_gave", "packs.alone", "season.packs.bus_dips",
    "season.packs.spread_late", "season.packs.browned_out", "season.packs.let_down",
    "season.packs.nothing_beyond", "link.holes_how", "link.fade_rule_db", "link.fade_rule_percent",
    "link.above_sensitivity", "link.frequency_cost", "link.burst_frames", "link.burst_packets", "link.counter_map",
    "direction.side_from_above", "direction.side_from_below", "range_check.against", "range_check.walked",
    "engines.highest_speed", "engines.highest_egt", "engines.until_cold", "headline.lowest_cell",
    "headline.lowest_pack", "headline.lowest_sentence",
})  # fmt: skip
"""Codes that name a figure, a method or a place; those whose claim is a count of its own are tested with their rule."""


def texts() -> dict[str, str]:
    """Every English text of the analyser's rooms that is filled with values, by code."""

    def walk(node: Any, path: str) -> Iterator[tuple[str, str]]:
        if isinstance(node, dict):
            for name, child in node.items():
                yield from walk(child, f"{path}.{name}" if path else name)
        elif isinstance(node, str):
            yield path, node

    out: dict[str, str] = {}
    for room in ROOMS:
        out.update(walk(tomllib.loads((ROOT / "reports" / "words" / "en" / f"{room}.toml").read_text("utf-8")), ""))
    return {code: said for code, said in out.items() if "{{" in said}


def claiming() -> set[str]:
    """Codes whose text holds a word that relates figures."""
    return {code for code, said in texts().items() if WORDS.search(said)}


def findings_of(node: Any) -> Iterator[Finding]:
    """Every finding anywhere in a result, those inside others included."""
    if isinstance(node, Finding):
        yield node
        yield from findings_of(tuple(node.values.values()))
    elif isinstance(node, Struct):
        for name in node.__struct_fields__:
            yield from findings_of(getattr(node, name))
    elif isinstance(node, Mapping):
        for child in node.values():
            yield from findings_of(child)
    elif isinstance(node, (tuple, list)) and not (node and isinstance(node[0], (int, float, np.ndarray))):
        for child in node:
            yield from findings_of(child)


def figures_in(node: Any) -> Iterator[Figure]:
    """Every figure anywhere in a result that says by a finding how it came about."""
    if isinstance(node, Figure):
        if isinstance(node.how, Finding):
            yield node
    elif isinstance(node, Struct):
        for name in node.__struct_fields__:
            yield from figures_in(getattr(node, name))
    elif isinstance(node, Mapping):
        for child in node.values():
            yield from figures_in(child)
    elif isinstance(node, (tuple, list)) and not (node and isinstance(node[0], (int, float, np.ndarray))):
        for child in node:
            yield from figures_in(child)


def untrue(*nodes: Any) -> list[str]:
    """Findings whose words claim what their values don't hold, each once."""
    wrong: dict[str, None] = {}
    for found in findings_of(nodes):
        rule = CLAIMS.get(str(found.code))
        if rule is not None and not rule(found.values):
            wrong[f"{found.code}: {dict(found.values)!r}"[:400]] = None
    for figure in figures_in(nodes):
        about = OF_FIGURES.get(str(figure.how.code)) if isinstance(figure.how, Finding) else None
        if about is not None and not about(figure):
            wrong[f"{figure!r}: {figure.how!r}"[:400]] = None
    return list(wrong)

"""Two headings that differ by one letter are read alike, or asked."""

from __future__ import annotations

import io
import re

import numpy as np
import pytest

from importers.model import Plan
from importers.plan import plan

RNG = np.random.default_rng(8)
ROWS = 120
VALUES = {
    "rpm": 32_000 + 80_000 * RNG.random(ROWS), "V": 8.2 - 0.6 * RNG.random(ROWS) - np.arange(ROWS) / 500,
    "ml": 3_000 - np.cumsum(RNG.random(ROWS) * 8), "%": 60 + 30 * RNG.random(ROWS),
}  # fmt: skip
VALUES["egt"] = 480 + 170 * RNG.random(ROWS)
VALUES["krpm"] = VALUES["rpm"] / 1000


def looked_at(*headings: tuple[str, str]) -> Plan:
    lines = [";".join(["t (s)", *(h for h, _ in headings)])]
    lines += [";".join([f"{i / 5}", *(f"{VALUES[kind][i]:.2f}" for _, kind in headings)]) for i in range(ROWS)]
    return plan(io.BytesIO("\n".join(lines).encode()), name="pairs.csv")


def asked(found: Plan) -> set[str]:
    return {h for q in found.questions for h in q.columns}


def test_gauche_and_droite_by_their_letters() -> None:
    """Common French practice, no source: G is left, D is right."""
    found = looked_at(("Reste (ml) G", "ml"), ("Reste (ml) D", "ml"), ("N turbine G (tr/min)", "rpm"),
                      ("N turbine D (tr/min)", "rpm"), ("U ECU G (V)", "V"), ("U ECU D (V)", "V"))  # fmt: skip
    sides = {c.heading: c.channel.split(".")[1] for c in found.columns[1:] if not c.channel.startswith("extra.")}
    assert {h for h, name in sides.items() if name.endswith("right")} == {h for h in sides if " D" in h}
    assert {h for h, name in sides.items() if name.endswith("left")} == {h for h in sides if " G" in h}
    assert len(sides) >= 4


@pytest.mark.parametrize(
    "pair",
    [
        (("LE.RPM", "rpm"), ("RE.RPM", "rpm")),
        (("Shaft XL (rpm)", "rpm"), ("Shaft XR (rpm)", "rpm")),
        (("Pack wa (V)", "V"), ("Pack wb (V)", "V")),
    ],
)
def test_counterparts_are_taken_alike_or_asked(pair: tuple[tuple[str, str], tuple[str, str]]) -> None:
    found = looked_at(*pair)
    names = [c.channel.split(".")[1] for c in found.columns[1:]]
    sides = [any(s in n for s in ("left", "right")) for n in names]
    open_ones = [h in asked(found) for h, _ in pair]
    kept = [c.channel.startswith("extra.") for c in found.columns[1:]]
    assert all(open_ones) or all(kept) or (sides[0] == sides[1] and "main" not in names)


def test_what_is_read_alike_is_not_asked() -> None:
    found = looked_at(("Left engine RPM", "rpm"), ("Right engine RPM", "rpm"), ("Rx1 battery (V)", "V"),
                      ("Rx2 battery (V)", "V"), ("Throttle (%)", "%"))  # fmt: skip
    assert not asked(found)


def test_a_misread_letter_does_not_make_one_of_two_the_only_one() -> None:
    found = looked_at(("Drehzahl QL [U/min]", "rpm"), ("Drehzahl QR [U/min]", "rpm"))
    by = {c.heading: c for c in found.columns[1:]}
    alone = [h for h, c in by.items() if c.channel == "engine.main.speed_rpm" and h not in asked(found)]
    assert not alone


def test_sides_run_together_with_a_word() -> None:
    found = looked_at(("Drehzahl TL [U/min]", "rpm"), ("Drehzahl TR [U/min]", "rpm"), ("LE.RPM.2", "rpm"),
                      ("TANKL (ml)", "ml"), ("TANKR (ml)", "ml"))  # fmt: skip
    by = {c.heading: c.channel for c in found.columns}
    assert by["Drehzahl TL [U/min]"] == "engine.left.speed_rpm"
    assert by["Drehzahl TR [U/min]"] == "engine.right.speed_rpm"
    assert by["TANKL (ml)"] == "fuel.left.remaining_ml"
    assert by["TANKR (ml)"] == "fuel.right.remaining_ml"


def test_an_a_run_together_is_a_name_beside_a_b() -> None:
    found = looked_at(("RxBatA", "V"), ("RxBatB", "V"), ("Throttle %", "%"))
    names = {c.heading: c.channel for c in found.columns}
    assert names["RxBatA"].endswith("_a.voltage_v")
    assert names["RxBatB"].endswith("_b.voltage_v")


def test_whole_words_that_end_in_a_side_stay_whole() -> None:
    found = looked_at(("Pack level (V)", "V"), ("Gear %", "%"), ("Throttle %", "%"))
    assert not any("left" in c.channel or "right" in c.channel for c in found.columns)


def test_a_station_in_the_engine_is_no_name() -> None:
    """T5 is a place along the gas path, as stations are numbered (common practice, no source); engine 1 is whose."""
    found = looked_at(("TW1 T5 (°C)", "%"), ("TW2 T5 (°C)", "%"), ("TW1 n (1/min)", "rpm"), ("TW2 n (1/min)", "rpm"))
    names = {c.channel.split(".")[1] for c in found.columns[1:] if not c.channel.startswith("extra.")}
    assert names == {"1", "2"}


def test_a_power_of_ten_behind_a_number_is_no_name() -> None:
    found = looked_at(("RPM1/1000", "krpm"), ("RPM2/1000", "krpm"))
    assert [c.channel for c in found.columns[1:]] == ["engine.1.speed_rpm", "engine.2.speed_rpm"]
    assert {float(c.factor.num) for c in found.columns[1:]} == {1000.0}


def test_nothing_is_named_by_two_numbers() -> None:
    headings = ("Engine 1 EGT 7 (°C)", "Engine 2 EGT 7 (°C)", "Rx 1 pack 2 (V)", "Rx 2 pack 2 (V)")
    found = looked_at(*((h, "V" if "V" in h else "egt") for h in headings))
    two = {c.heading for c in found.columns[1:] if re.search(r"\d\D*_\d", c.channel.split(".")[1])}
    assert two <= asked(found)
    assert two

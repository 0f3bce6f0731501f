"""Clocks that count rows or days, or in a unit that nothing names: read where they say how, else asked."""

import io
import math

import pandas as pd
import pytest

from importers.plan import plan


def log(heading, value, more=("Drehzahl (U/min)", "Abgastemperatur (°C)"), rows=200, each=0.25):
    lines, used = [";".join((heading, *more))], 0.0
    for i in range(rows):
        throttle = math.sin(i / 30) ** 2
        flow, used = 100 + 200 * throttle, used + (100 + 200 * throttle) * each / 60
        cells = {"Drehzahl (U/min)": 30_000 + int(20_000 * throttle), "Abgastemperatur (°C)": 400 + int(100 * throttle),
                 "Verbrauch (ml)": f"{used:.1f}", "Durchfluss (ml/min)": f"{flow:.1f}"}  # fmt: skip
        lines.append(";".join(str(v) for v in (value(i), *(cells[m] for m in more))))
    return plan(io.BytesIO("\n".join(lines).encode()), name="log.csv")


def asked(found):
    return [q.key for q in found.questions]


@pytest.mark.parametrize(("heading", "rate"), [
    ("Messung Nr. (10 je Sekunde)", 10), ("Muestra (2 por segundo)", 2), ("échantillon (5 par seconde)", 5),
    ("campione (4 al secondo)", 4), ("sample (10 per second)", 10), ("n @ 10 Hz", 10), ("Zähler (10/s)", 10),
    ("Zeile (alle 0,1 s)", 10), ("fila (cada 200 ms)", 5),
])  # fmt: skip
def test_row_numbers_with_a_rate_in_their_heading_are_a_clock(heading, rate):
    found = log(heading, lambda i: i + 1)
    assert float(found.time.per_second) == pytest.approx(rate)
    assert asked(found) == []


@pytest.mark.parametrize("heading", ["Zähler", "counter", "sample", "ligne", "Muestra", "contatore", "Messung Nr."])
def test_the_rate_of_row_numbers_is_asked(heading):
    assert asked(log(heading, lambda i: i + 1)) == ["rate"]


@pytest.mark.parametrize(("heading", "per_second"), [
    ("us dal boot", 1e6), ("ms since boot", 1e3), ("µs seit Start", 1e6), ("ms depuis le démarrage", 1e3),
    ("ms desde el arranque", 1e3),
])  # fmt: skip
def test_a_heading_may_begin_with_its_unit(heading, per_second):
    found = log(heading, lambda i: 7_000_000 + int(i * per_second / 10))
    assert found.time.per_second == per_second
    assert asked(found) == []


@pytest.mark.parametrize(
    "heading", ["Día juliano", "Julian date", "Julianisches Datum", "jour julien", "data giuliana"]
)
@pytest.mark.parametrize("modified", [0.0, 2_400_000.5])
def test_julian_days_are_those_that_pandas_counts(heading, modified):
    start = pd.Timestamp("2024-06-25T17:52:00Z")
    found = log(heading, lambda i: f"{(start + pd.Timedelta(seconds=i)).to_julian_date() - modified:.9f}")
    ns = found.time.zero_ns + round((start.to_julian_date() - modified) * 86_400 * 1e9)
    assert abs(ns - start.value) < 1e8
    assert asked(found) == []


def test_an_odd_pace_is_asked_unless_a_law_bears_it_out():
    slow = lambda i: (5 * i) // 2  # noqa: E731
    assert asked(log("Zeit", slow)) == ["time_unit"]
    assert asked(log("Ora", lambda i: f"{771.8833 + i / 240:.4f}")) == ["time_unit"]
    fuel = ("Verbrauch (ml)", "Durchfluss (ml/min)", "Drehzahl (U/min)")
    assert "time_unit" not in asked(log("Zeit", slow, fuel, each=2.5))
    assert "time_unit" in asked(log("Zeit", slow, fuel, each=0.25))
    assert asked(log("Zeit", lambda i: i)) == []
    assert asked(log("Zeit (s)", slow)) == []

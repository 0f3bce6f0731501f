"""A long flight's link is worked out beside the rest, and comes to the same."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest

from analyser import flight
from analyser.core.aircraft import FlightContext, Pack
from analyser.core.telemetry import Telemetry
from spooldown.logbook.codec import to_bytes


def flown() -> Telemetry:
    rng = np.random.default_rng(3)
    t = 0.1 * np.arange(1500.0)
    load = 0.5 + np.repeat(rng.gamma(1.5, 1.0, 60), 25)
    columns = {
        "time_s": t,
        "pack.rx1.current_a": load,
        "pack.rx1.voltage_v": 8.2 - 0.002 * t - 0.05 * load + rng.normal(0.0, 0.003, t.size),
        "link.rx1.antenna1_rssi_dbm": -60.0 + rng.normal(0.0, 6.0, t.size),
        "link.rx1.antenna2_rssi_dbm": -62.0 + rng.normal(0.0, 6.0, t.size),
    }
    return Telemetry(pa.table(columns))


CONTEXT = FlightContext("long", packs={"rx1": Pack("rx1", "lipo", 2, 2000.0)})


def test_the_same_in_one_thread_and_in_two(monkeypatch: pytest.MonkeyPatch) -> None:
    alone = flight.analyse_flight(flown(), CONTEXT)
    monkeypatch.setattr(flight, "LONG_ROWS", 1)
    beside = flight.analyse_flight(flown(), CONTEXT)
    assert alone.packs.packs[0].resistance.value_mohm.value is not None
    assert len(alone.link.receivers[0].antennas) == 2
    assert to_bytes(beside) == to_bytes(alone)


def test_what_stops_the_link_stops_the_flight(monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object) -> None:
        raise ArithmeticError("no link")

    monkeypatch.setattr(flight, "LONG_ROWS", 1)
    monkeypatch.setattr(flight, "analyse_link", stopped)
    with pytest.raises(ArithmeticError, match="no link"):
        flight.analyse_flight(flown(), CONTEXT)

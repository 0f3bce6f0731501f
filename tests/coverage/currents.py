"""Scale of the current sensors and what follows from it, against seasons of simulator C (``simulators/charging``)."""

from __future__ import annotations

import numpy as np

from analyser.core.figures import Figure
from analyser.core.phases import find_phases
from analyser.core.quality import screen
from analyser.engines.analysis import TurbineResult
from analyser.flight import FlightResult
from analyser.fuel.analysis import FuelResult
from analyser.link.analysis import LinkResult
from analyser.packs.analysis import analyse_packs
from analyser.record import FlightRecord
from analyser.season.packs.current_scale import correct_currents
from tests.coverage.tally import Tally
from tests.simulators.charging import Flown, Habits, fly_season

CASES: dict[str, Habits] = {
    "every charge noted": Habits(noted=1.0),
    "some charges noted": Habits(noted=0.4),
    "never noted": Habits(noted=0.0),
    "two flights a charge": Habits(twice=0.7),
    "charged for storage now and then": Habits(storage=0.4),
    "drift": Habits(flights=30, drift=0.003, noted=0.9),
    "sensor exchanged": Habits(flights=36, exchanged=True, noted=0.9),
}
NAMES = {"used_mah": "charge used", "as_read_mohm": "resistance", "factor": "factor", "capacity_mah": "capacity"}


def record_of(flown: Flown, number: int) -> FlightRecord:
    """Analyse the packs of one flight; the rest of its result is left out."""
    telemetry = screen(flown.telemetry)
    phases = find_phases(telemetry)
    result = FlightResult(
        flown.context.flight_id, telemetry.duration_s, phases, FuelResult.__new__(FuelResult),
        TurbineResult.__new__(TurbineResult), analyse_packs(telemetry, phases, flown.context),
        LinkResult.__new__(LinkResult), (), (), (),
    )  # fmt: skip
    return FlightRecord(flown.context.flight_id, number, flown.start, flown.context, result)


def count_currents(tally: Tally, seasons: int, seed: int, cases: dict[str, Habits] | None = None) -> None:
    """Fly seasons of every case and count what is said of charge, resistance, capacity and the sensor's scale."""
    for at, (case, habits) in enumerate((cases or CASES).items()):
        for k in range(seasons):  # a loop over seasons
            flown = fly_season(habits, np.random.default_rng([seed, at, k]))
            records = correct_currents([record_of(f, n + 1) for n, f in enumerate(flown)])
            for flight, record in zip(flown, records, strict=True):
                for pack in record.result.packs.packs:
                    shown: dict[str, Figure] = {
                        "used_mah": pack.charge.used_mah,
                        "as_read_mohm": pack.resistance.as_read_mohm,
                        "factor": pack.scale.applied.factor,
                        "capacity_mah": pack.capacity.by_discharge_mah,
                    }
                    for key, f in shown.items():
                        if f.value is not None and f.low is not None and f.high is not None:
                            row = tally.row(f"season.packs.scale {NAMES[key]}, {case}", "charging")
                            row.add(k, f.value, f.low, f.high, flight.truth[f"{pack.name}.{key}"])

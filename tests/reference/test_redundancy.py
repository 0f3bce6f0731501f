"""Would one pack have carried the bus alone: against two circuits solved directly.

Sources: Kirchhoff's laws for two voltage sources with resistances on one bus, solved by hand in each test; PyBaMM (BSD
3-clause), ``equivalent_circuit.Thevenin``, run once for the flight as flown and once for one pack with all the load.
The cell's open-circuit curve is of a make that the tool's tables do not know (``ORegan2022``), new and aged.
"""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest
from msgspec import Struct

from analyser.core.aircraft import Aircraft, FlightContext, Pack
from analyser.core.phases import find_phases
from analyser.core.quality import screen
from analyser.core.telemetry import Telemetry
from analyser.packs.analysis import analyse_packs
from analyser.packs.bus.redundancy import BusResult
from analyser.packs.chemistry import CHARGE_PERCENT
from tests.reference.test_aged_cells import Cell, aged

CHECKS = ("packs.buses.alone.*", "packs.buses.path_*", "packs.buses.share_percent", "packs.buses.worst_load_a")

HZ, SECONDS, CELLS = 5.0, 480.0, 2
TIME = np.arange(0.0, SECONDS, 1.0 / HZ)
NEW = aged("ORegan2022", "lithium", 0.0)
OLD = aged("ORegan2022", "lithium", 0.15)


def load(seed: int, peak_a: float) -> np.ndarray:
    """What both packs carry together: rest, uneven load held for two seconds each, one peak, rest."""
    rng = np.random.default_rng(seed)
    amps = np.repeat(rng.gamma(2.0, 2.0, TIME.size // 10 + 1) + 2.0, 10)[: TIME.size]
    amps[(TIME > 300) & (TIME < 303)] += peak_a
    return np.where((TIME > 30) & (TIME < SECONDS - 60), amps, 0.2)


def bus_of(volts: dict[str, np.ndarray], amps: dict[str, np.ndarray], pack: Pack, level: float) -> BusResult:
    """What the analyser says of the bus that these traces show."""
    columns = {"time_s": TIME}
    for role in volts:
        columns[f"pack.{role}.voltage_v"] = np.round(volts[role], 2)
        columns[f"pack.{role}.current_a"] = np.round(amps[role], 2)
    telemetry = screen(Telemetry(pa.table(columns)))
    context = FlightContext(aircraft=Aircraft("bus", brown_out_v=level), packs={"rx1": pack, "rx2": pack})
    (bus,) = analyse_packs(telemetry, find_phases(telemetry), context).buses
    return bus


@pytest.mark.parametrize("ohm", [(0.04, 0.06), (0.03, 0.15), (0.09, 0.09)])
def test_two_sources_with_resistances_by_hand(ohm: tuple[float, float]) -> None:
    # E1 − R1 i1 = E2 − R2 i2 and i1 + i2 = I, so i1 = (E1 − E2 + R2 I)/(R1 + R2); alone, pack 1 gives E1 − R1 I.
    total, (r1, r2) = load(1, 12.0), ohm
    e1, e2 = (8.2 - 0.1 * TIME / SECONDS, 8.15 - 0.1 * TIME / SECONDS)
    first = np.clip((e1 - e2 + r2 * total) / (r1 + r2), 0.0, total)
    volts = {"rx1": e1 - r1 * first, "rx2": e2 - r2 * (total - first)}
    bus = bus_of(volts, {"rx1": first, "rx2": total - first}, Pack("P", "li_ion", CELLS, 3000.0), 5.0)
    for role, e, r in (("rx1", e1, r1), ("rx2", e2, r2)):
        figure, truth = bus.alone[role].failed_now_v, float((e - r * total).min())
        assert figure.value == pytest.approx(truth, abs=0.03)
        assert figure.low is not None
        assert figure.high is not None
        assert figure.low <= truth <= figure.high


class Flown(Struct, frozen=True):
    """Two like packs that shared a load, and what one of them gives with all of it, V."""

    bus_now: BusResult
    alone_v: np.ndarray
    rated_mah: float


def thevenin(cell: Cell, amp_hours: float, current: np.ndarray) -> np.ndarray:
    """Voltage of a pack of such cells under a current, by PyBaMM's equivalent circuit, full at the first sample."""
    pybamm = pytest.importorskip("pybamm")
    values = pybamm.ParameterValues("ECM_Example")
    changed = {
        "Current function [A]": pybamm.Interpolant(TIME, current, pybamm.t),
        "Cell capacity [A.h]": amp_hours,
        "Nominal cell capacity [A.h]": amp_hours,
        "Initial SoC": 0.995,
        "Ambient temperature [K]": 298.15,
        "Initial temperature [K]": 298.15,
        "R0 [Ohm]": 0.020,
        "R1 [Ohm]": 0.010,
        "C1 [F]": 1500.0,
        "Element-1 initial overpotential [V]": 0.0,
        "Lower voltage cut-off [V]": 0.5,
        "Upper voltage cut-off [V]": 5.0,
        "Open-circuit voltage [V]": lambda soc: pybamm.Interpolant(CHARGE_PERCENT / 100.0, cell.rest_v, soc),
    }
    values.update(changed, check_already_exists=False)
    simulation = pybamm.Simulation(pybamm.equivalent_circuit.Thevenin(), parameter_values=values)
    solution = simulation.solve(t_eval=[0, float(TIME[-1])], t_interp=TIME)
    return CELLS * np.asarray(solution["Voltage [V]"](TIME))


@pytest.fixture(scope="module", params=[("new", 1.4), ("new", 4.0), ("old", 1.8)], ids=lambda p: f"{p[0]} {p[1]} Ah")
def flown(request: pytest.FixtureRequest) -> Flown:
    """A large pack, a small one that one flight alone would nearly empty, and an aged one."""
    age, rated = request.param
    cell, total = (NEW if age == "new" else OLD), load(3, 8.0)
    amp_hours = rated * cell.capacity / NEW.capacity
    # Two like packs share any load evenly, by symmetry.
    shared = thevenin(cell, amp_hours, total / 2)
    pack = Pack("P", "li_ion", CELLS, 1000.0 * rated)
    amps = {"rx1": total / 2, "rx2": total / 2}
    bus = bus_of({"rx1": shared, "rx2": shared}, amps, pack, 6.0)
    return Flown(bus, thevenin(cell, amp_hours, total), 1000.0 * rated)


def test_a_pack_alone_since_take_off_gives_what_the_circuit_gives(flown: Flown) -> None:
    truth = float(flown.alone_v.min())
    for one in flown.bus_now.alone.values():
        figure = one.failed_before_v
        assert figure.low is not None
        assert figure.high is not None
        assert figure.low <= truth <= figure.high
        assert figure.value == pytest.approx(truth, abs=0.25)
        # Having carried everything it lies deeper on its curve than at a failure just now.
        assert (figure.value or 0.0) < (one.failed_now_v.value or 0.0)


def test_the_lower_answer_judges(flown: Flown) -> None:
    truth = float(flown.alone_v.min())
    for one in flown.bus_now.alone.values():
        assert one.lowest_v is one.failed_before_v
        if one.carries is not None:
            assert one.carries == (truth > 6.0)


def test_a_small_pack_fails_later_than_a_sudden_failure_shows() -> None:
    # What the second question is for: judged by a failure just now, it would have been said to carry alone.
    total = load(3, 8.0)
    shared = thevenin(NEW, 1.4, total / 2)
    level = 6.9
    alone = thevenin(NEW, 1.4, total)
    amps = {"rx1": total / 2, "rx2": total / 2}
    bus = bus_of({"rx1": shared, "rx2": shared}, amps, Pack("P", "li_ion", CELLS, 1400.0), level)
    one = bus.alone["rx1"]
    assert float(alone.min()) < level
    assert (one.failed_now_v.value or 0.0) - float(alone.min()) > 0.4
    assert (one.failed_now_v.low or 0.0) > level
    assert one.carries is not True


def test_a_peak_that_only_one_pack_was_read_in_is_shared_by_both() -> None:
    # Kirchhoff: two packs of 50 and 100 mΩ at one voltage share any load two to one, so either tells the whole of it.
    total = load(5, 0.0)
    peak = (TIME > 300.05) & (TIME < 300.35)
    total = np.where(peak, 30.0, total)
    first = total * 2.0 / 3.0
    e, r1, r2 = 8.2, 0.05, 0.10
    columns = {"time_s": TIME}
    for k, (role, own, r) in enumerate((("rx1", first, r1), ("rx2", total - first, r2))):
        # The second pack is read every other row, and never in the peak.
        read = np.ones(TIME.size, bool) if k == 0 else (np.arange(TIME.size) % 2 == 0) & ~peak
        columns[f"pack.{role}.voltage_v"] = np.where(read, np.round(e - r * own, 3), np.nan)
        columns[f"pack.{role}.current_a"] = np.where(read, np.round(own, 3), np.nan)
    telemetry = screen(Telemetry(pa.table({k: pa.array(v, from_pandas=True) for k, v in columns.items()})))
    pack = Pack("P", "li_ion", CELLS, 3000.0)
    context = FlightContext(aircraft=Aircraft("bus", brown_out_v=5.0), packs={"rx1": pack, "rx2": pack})
    (bus,) = analyse_packs(telemetry, find_phases(telemetry), context).buses
    assert bus.worst_load_a.value == pytest.approx(30.0, rel=0.03)
    for role, r in (("rx1", r1), ("rx2", r2)):
        assert bus.alone[role].failed_now_v.value == pytest.approx(e - r * 30.0, abs=0.12)

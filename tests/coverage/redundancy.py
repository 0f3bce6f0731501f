"""Would one pack have carried the bus alone: pairs drawn anew, each pack solved by PyBaMM, with its part and with all.

``python -m tests.coverage.redundancy --pairs 60`` flies unlike packs on one bus: makes that the tables know and do not
know, aged in any mode, small and large, cold and warm, full and half charged, read by sensors that nobody checked. It
counts how often the interval of the lower figure held, and how often "carries it alone" was said and wrong.
"""

from __future__ import annotations

import argparse
import contextlib

import numpy as np
import pyarrow as pa
import pybamm
from msgspec import Struct

from analyser.core.aircraft import Aircraft, FlightContext, Pack
from analyser.core.phases import find_phases
from analyser.core.quality import screen
from analyser.core.telemetry import Telemetry
from analyser.packs.analysis import analyse_packs
from analyser.packs.bus.redundancy import set_bus
from analyser.packs.chemistry import CHARGE_PERCENT
from tests.coverage.tally import Tally
from tests.reference.test_aged_cells import MAKES, MODES, aged

SECONDS, CELLS = 420.0, 2
LEVELS = (-0.6, -0.3, -0.15, -0.05, 0.05, 0.15, 0.3, 0.6)
"""Brown-out levels beside the truth, V, at which the verdict is asked."""


class Half(Struct, frozen=True):
    """One pack of a pair, as drawn; ``cold`` is how many times its resistance at 25 °C it has."""

    chemistry: str
    make: str
    mode: str
    severity: float
    rated_ah: float
    ohm: float
    slow_ohm: float
    slow_s: float
    cold: float
    charge: float
    reads: float

    @property
    def capacity_ah(self) -> float:
        return (
            self.rated_ah
            * aged(self.make, self.mode, self.severity).capacity
            / aged(self.make, "lithium", 0.0).capacity
        )


def draw(rng: np.random.Generator, full: bool) -> Half:
    """Draw a pack."""
    chemistry, make = MAKES[int(rng.integers(len(MAKES)))]
    return Half(
        chemistry, make, str(rng.choice(list(MODES))), float(rng.choice([0.0, 0.0, 0.1, 0.2])),
        float(rng.uniform(1.0, 4.0)), float(rng.uniform(0.008, 0.025)), float(rng.uniform(0.3, 1.0)),
        float(rng.uniform(8.0, 40.0)), float(rng.choice([1.0, 1.0, 1.6, 2.4])),
        float(rng.uniform(0.985, 1.0)) if full else float(rng.uniform(0.45, 0.8)), float(rng.normal(1.0, 0.05)),
    )  # fmt: skip


def load(t: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """What both packs carry: rest, uneven load held for two seconds each, a peak, rest."""
    step = int(2.0 / (t[1] - t[0]))
    amps = np.repeat(rng.gamma(2.0, rng.uniform(0.8, 2.2), t.size // step + 1) + 1.5, step)[: t.size]
    at = rng.uniform(150.0, 330.0)
    amps[(t > at) & (t < at + 2.5)] += rng.uniform(3.0, 9.0)
    return np.where((t > 30.0) & (t < SECONDS - 60.0), amps, 0.2)


def solve(half: Half, t: np.ndarray, amps: np.ndarray) -> np.ndarray | None:
    """Voltage of the pack under a current, V; ``None`` where PyBaMM finds it emptied."""
    cell = aged(half.make, half.mode, half.severity)
    values = pybamm.ParameterValues("ECM_Example")
    r1 = half.ohm * half.slow_ohm * half.cold
    values.update(
        {
            "Current function [A]": pybamm.Interpolant(t, amps, pybamm.t),
            "Cell capacity [A.h]": half.capacity_ah,
            "Nominal cell capacity [A.h]": half.capacity_ah,
            "Initial SoC": half.charge,
            "Ambient temperature [K]": 298.15,
            "Initial temperature [K]": 298.15,
            "R0 [Ohm]": half.ohm * half.cold,
            "R1 [Ohm]": r1,
            "C1 [F]": half.slow_s / r1,
            "Element-1 initial overpotential [V]": 0.0,
            "Lower voltage cut-off [V]": 0.2,
            "Upper voltage cut-off [V]": 6.0,
            "Open-circuit voltage [V]": lambda soc: pybamm.Interpolant(CHARGE_PERCENT / 100.0, cell.rest_v, soc),
        },
        check_already_exists=False,
    )
    with contextlib.suppress(pybamm.SolverError):
        simulation = pybamm.Simulation(pybamm.equivalent_circuit.Thevenin(), parameter_values=values)
        solution = simulation.solve(t_eval=[0, float(t[-1])], t_interp=t)
        if float(solution.t[-1]) >= t[-1] - 1.0:
            return CELLS * np.asarray(solution["Voltage [V]"](t))
    return None


def count_pairs(tally: Tally, pairs: int, seed: int) -> dict[str, int]:
    """Fly pairs; how often "carries" and "does not" were said, and how often wrongly."""
    said = dict.fromkeys(("carries", "carries, wrong", "fails", "fails, wrong", "cannot tell", "pairs"), 0)
    for k in range(pairs):  # a loop over pairs
        rng = np.random.default_rng([seed, k])
        t = np.arange(0.0, SECONDS, 0.25)
        total, full = load(t, rng), bool(rng.random() < 0.75)
        halves = [draw(rng, full), draw(rng, full)]
        part = float(rng.uniform(0.35, 0.65)) + 0.08 * (t / SECONDS - 0.5)
        own = [part * total, (1.0 - part) * total]
        shared = [solve(h, t, a) for h, a in zip(halves, own, strict=True)]
        alone = [solve(h, t, total) for h in halves]
        columns = {"time_s": t}
        for role, h, v, a in zip(("rx1", "rx2"), halves, shared, own, strict=True):
            if v is None or alone[0] is None or alone[1] is None:
                break
            columns[f"pack.{role}.voltage_v"] = np.round(v + rng.normal(0.0, 0.004, t.size), 2)
            columns[f"pack.{role}.current_a"] = np.round(a * h.reads + rng.normal(0.0, 0.02, t.size), 2)
        else:
            said["pairs"] += 1
            telemetry = screen(Telemetry(pa.table(columns)))
            packs = {r: Pack(r, h.chemistry, CELLS, 1000.0 * h.rated_ah)  # type: ignore[arg-type]
                     for r, h in zip(("rx1", "rx2"), halves, strict=True)}  # fmt: skip
            phases = find_phases(telemetry)
            result = analyse_packs(telemetry, phases, FlightContext(aircraft=Aircraft("bus"), packs=packs))
            (bus,) = result.buses
            scales = {p.name: p.scale.applied for p in result.packs}
            for role, v in zip(("rx1", "rx2"), alone, strict=True):
                truth, one = float(v.min()) if v is not None else 0.0, bus.alone[role]
                for beside in LEVELS:
                    one = set_bus(bus, scales, truth + beside).alone[role]
                    word = {True: "carries", False: "fails", None: "cannot tell"}[one.carries]
                    said[word] += 1
                    if one.carries is not None and one.carries != (beside < 0.0):
                        said[f"{word}, wrong"] += 1
                f = one.failed_before_v
                if f.value is not None and f.low is not None and f.high is not None:
                    kind = "full" if full else "half charged"
                    row = tally.row(f"packs.buses.alone.failed_before_v, {kind}", "PyBaMM")
                    row.add(k, f.value, f.low, f.high, truth)
    return said


def main(arguments: list[str] | None = None) -> None:
    """Print what was kept."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pairs", type=int, default=60)
    parser.add_argument("--seed", type=int, default=611)
    given = parser.parse_args(arguments)
    tally = Tally()
    said = count_pairs(tally, given.pairs, given.seed)
    print(tally.markdown())
    print(said)


if __name__ == "__main__":
    main()

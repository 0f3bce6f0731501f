"""The coverage table: how often every interval the analyser shows holds the truth, by three simulators.

``python -m tests.coverage.table`` prints it as Markdown for ``docs/coverage.md``; ``--quick`` flies less.
"""

from __future__ import annotations

import argparse
import sys
import time

from tests.coverage.antennas import count_antennas
from tests.coverage.currents import count_currents
from tests.coverage.flights import any_condition, count_flights
from tests.coverage.odds import count_odds
from tests.coverage.seasons import count_seasons
from tests.coverage.tally import Tally
from tests.simulators import event, kinematic, stepwise
from tests.simulators.flight import Maker

MAKERS: tuple[Maker, ...] = (kinematic, event, stepwise)
SUBJECTS = ("flights", "seasons", "antennas", "odds", "currents")
FULL = {"flights": 120, "seasons": 40, "antennas": 20, "odds": 60, "currents": 12}
QUICK = {"flights": 24, "seasons": 5, "antennas": 3, "odds": 6, "currents": 2}


def count(sizes: dict[str, int], subjects: tuple[str, ...] = SUBJECTS, seed: int = 20_31) -> Tally:
    """Fly and count.

    Parameters
    ----------
    sizes : dict
        How many flights and seasons of each kind and simulator.
    subjects : tuple of str
        Which of :data:`SUBJECTS`.
    seed : int
        Same seed, same table.
    """
    tally = Tally()
    for k, maker in enumerate(MAKERS):
        for subject in subjects:
            began, n = time.perf_counter(), sizes[subject]
            if subject == "flights":
                count_flights(tally, maker, n, seed + k, any_condition, stated=True)
            elif subject == "seasons":
                count_seasons(tally, maker, n, seed + 10 + k)
            elif subject == "antennas":
                count_antennas(tally, maker, n, seed + 20 + k)
            elif subject == "currents" and maker is event:
                count_currents(tally, n, seed + 40)
            elif subject == "odds" and maker is not kinematic:
                count_odds(tally, maker, n if maker is event else n // 2, seed + 30 + k)
            print(f"{maker.name} {subject}: {time.perf_counter() - began:.0f} s", file=sys.stderr)
    return tally


def main(arguments: list[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a sixth of the flights, for a look in a minute")
    parser.add_argument("--only", choices=SUBJECTS, action="append", help="one subject (may be given again)")
    parser.add_argument("--seed", type=int, default=20_31)
    given = parser.parse_args(arguments)
    tally = count(QUICK if given.quick else FULL, tuple(given.only or SUBJECTS), given.seed)
    print(tally.markdown())
    if tally.silent:
        print("\nSeasons without advice:\n")
        print("\n".join(f"- {name}: {n}" for name, n in sorted(tally.silent.items())))
    print("\nFigures that show an interval and whose truth the simulators do not know:\n")
    print(tally.gaps())


if __name__ == "__main__":
    main()

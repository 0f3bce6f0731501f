"""Score the importer on the exports: `python -m tests.importers.exports.score open|sealed [--wrong] [--seed N]`."""

import sys
from collections.abc import Sequence

from tests.importers.exports.pool import logs
from tests.importers.hands.score import report


def main(arguments: Sequence[str]) -> None:
    """Print the tables."""
    half = next((a for a in arguments if not a.startswith("-") and not a.isdigit()), "open")
    seed = int(arguments[arguments.index("--seed") + 1]) if "--seed" in arguments else 0
    print(report(logs(half, seed), "--wrong" in arguments))


if __name__ == "__main__":
    main(sys.argv[1:])

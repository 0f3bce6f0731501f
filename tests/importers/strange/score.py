"""Score the importer on strange logs: ``python -m tests.importers.strange.score POOL [SEED] [--only NAME]``."""

from __future__ import annotations

import argparse
import fnmatch
import io
import sys
from collections import Counter
from collections.abc import Iterator

import pandas as pd

from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from tests.importers.strange import pools
from tests.importers.strange.truth import Log, Outcome, compare


def judge(log: Log) -> Outcome:
    """Plan and read one log as its owner would; answer what is asked from what the owner knows."""
    answers: dict[str, str] = {}
    asked, needless = [], []
    try:
        for _ in range(6):
            planned = plan(io.BytesIO(log.data), name=log.file, answers=answers)
            if not planned.questions:
                break
            for question in planned.questions:
                fair = any(fnmatch.fnmatchcase(question.key, f) for f in log.fair)
                (asked if fair else needless).append(f"{question.key} {list(question.columns)[:4]}")
                answer = next((a for k, a in log.facts.items() if fnmatch.fnmatchcase(question.key, k)), "")
                if not answer and question.key == "doubtful":
                    answer = "as-shown"
                if not answer:
                    return Outcome("asked" if fair else "needless", f"{question.key}: {question.text}"[:300])
                answers[question.key] = answer
        tables = []
        for draft in read(planned):
            tables.append(draft.telemetry().table.to_pandas())
    except Refusal as refusal:
        return Outcome("refused" if log.refusable else "needlessly refused", str(refusal)[:400])
    except Exception as fault:  # a traceback is the worst that a person can get
        return Outcome("crash", repr(fault)[:300])
    outcome = compare(log.flights, tables, log.lost)
    if outcome.word == "right" and needless:
        return Outcome("needless", "; ".join(needless))
    if outcome.word == "right" and asked:
        return Outcome("asked", "; ".join(asked))
    if outcome.word == "wrong" and (asked or needless) and log.refusable:
        return Outcome("asked", f"{asked + needless}, then {outcome.why}")
    if outcome.word in ("wrong", "lost", "kept"):
        said = [n for n in planned.notices if not isinstance(n, str)]
        outcome.why += f" | clock {planned.clock} | asked {asked + needless} | {len(said)} notices"
    return outcome


def scores(pool: str, seed: int, only: str = "*") -> Iterator[tuple[Log, Outcome]]:
    """Every log of a pool with its outcome."""
    for log in pools.draw(pool, seed, only):
        yield log, judge(log)


def main() -> None:
    """Print what is not right, and the counts."""
    parser = argparse.ArgumentParser()
    parser.add_argument("pool", choices=tuple(pools.POOLS))
    parser.add_argument("seed", nargs="?", type=int, default=1)
    parser.add_argument("--only", default="*")
    parser.add_argument("--all", action="store_true")
    parser.add_argument("--quiet", action="store_true")
    parser.add_argument("--write", default="")
    said = parser.parse_args()
    counts: Counter[str] = Counter()
    pd.set_option("display.width", 200)
    for log, outcome in scores(said.pool, said.seed, said.only):
        counts[outcome.word] += 1
        if said.write:
            with open(f"{said.write}/{log.name}.csv", "wb") as out:
                out.write(log.data)
        if not said.quiet and (outcome.word != "right" or said.all):
            print(f"{outcome.word:18} {log.name}: {outcome.why}")
    print(said.pool, said.seed, sum(counts.values()), dict(counts), file=sys.stdout)


if __name__ == "__main__":
    main()

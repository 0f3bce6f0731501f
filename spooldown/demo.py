"""The demonstration: a fresh logbook from the invented sample logs that travel with the package."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

from spooldown import register
from spooldown.bench.kept import keep
from spooldown.bench.sheet import is_bench_sheet, read_bench_sheet
from spooldown.intake import adding
from spooldown.logbook.book import Logbook
from spooldown.problems import LogbookProblem
from spooldown.sheets.field import apply_sheet, is_sheet
from spooldown.sheets.range_checks import is_range_sheet, read_range_sheet

LABEL = "Invented data"


def sample_folder() -> Path:
    """Where the sample logs are: inside the installed package, or beside it in a checkout.

    Raises
    ------
    LogbookProblem
        If the package came without them.
    """
    here = Path(__file__).resolve().parent
    for folder in (here / "sample_logs", here.parent / "sample_logs"):
        if any(folder.rglob("*.csv")):
            return folder
    raise LogbookProblem("problem.no_samples")


def fresh(folder: Path) -> Logbook:
    """Make ``folder/logbook`` anew; only a logbook that an earlier demonstration made is thrown away.

    Raises
    ------
    LogbookProblem
        If something else is in the way.
    """
    place = folder / "logbook"
    if place.exists() and any(place.iterdir()):
        with Logbook(place) as old:
            ours = old.setting("label") == LABEL
        if not ours:
            raise LogbookProblem("problem.no_demo", place=str(place))
        shutil.rmtree(place)
    book = Logbook(place)
    book.set_setting("label", LABEL)
    book.set_setting("title", "Fenholt, a demonstration")
    return book


def fill(
    book: Logbook, samples: Path, *, progress: Callable[[str, int, int], None] | None = None
) -> tuple[list[adding.Outcome], list[str]]:
    """Register, import and note everything below ``samples``; returns what became of each log, and the sheets."""
    taken: list[str] = []
    for path in sorted(samples.rglob("*.toml")):
        register.add(book, path.read_bytes(), path.name)
    known = register.load(book)
    logs = adding.find_logs([samples])
    outcomes = []
    for done, log in enumerate(logs, 1):
        outcomes.append(adding.add_file(book, log, known))
        if progress:
            progress(log.path.name, done, len(logs))
    for log in logs:
        data = log.path.read_bytes()
        if is_sheet(data[:256]):
            apply_sheet(book, known, data, log.path.name)
            taken.append(log.path.name)
        elif is_range_sheet(data[:256]):
            rows = read_range_sheet(data, log.path.name, known)
            book.add_range_checks((r.aircraft, r.check) for r in rows)
            taken.append(log.path.name)
        elif is_bench_sheet(data[:256]):
            for record in read_bench_sheet(data, log.path.name, known):
                keep(book, record)
            taken.append(log.path.name)
    return outcomes, taken

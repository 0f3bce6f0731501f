"""The library's own functions: from a log or a logbook to results, in a few lines."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from analyser.core.aircraft import FlightContext
from analyser.core.findings import Text
from analyser.core.telemetry import Telemetry
from analyser.flight import FlightResult
from analyser.flight import analyse_flight as _analyse
from spooldown import problems  # noqa: F401 - lets refusals read as sentences
from spooldown.work.meanwhile import begun_anew

if TYPE_CHECKING:
    import pandas as pd

    from analyser.record import FlightRecord
    from analyser.season import SeasonResult
    from importers.model import Plan
    from spooldown.register import RegisterFile


def look_at(path: str | Path, *, answers: Mapping[str, str] | None = None, mappings: Sequence[str | Path] = ()) -> Plan:
    """Look at a log without reading it whole: what each column is taken for, why, and what is open.

    Parameters
    ----------
    path : path
        A CSV log, plain or compressed.
    answers : mapping of str to str, optional
        Answers to the plan's questions, by their keys.
    mappings : sequence of path
        Saved mappings to recognise the layout by.

    Raises
    ------
    Refusal
        If the file cannot be read as telemetry; the sentence says where, what was found and what to do.

    Examples
    --------
    >>> look_at("sample_logs/tern/tern-2026-04-18.csv").shape
    'wide'
    """
    from importers.plan import plan

    return plan(Path(path), answers=answers, mappings=[Path(m) for m in mappings])


def read_log(
    path: str | Path, *, answers: Mapping[str, str] | None = None, mappings: Sequence[str | Path] = ()
) -> list[Telemetry]:
    """Read a log: one :class:`Telemetry` for each flight in it.

    Parameters
    ----------
    path : path
        A CSV log, plain or compressed.
    answers : mapping of str to str, optional
        Answers to what the file leaves open, by the keys that :func:`look_at` lists.
    mappings : sequence of path
        Saved mappings to recognise the layout by.

    Raises
    ------
    Refusal
        If the file cannot be read, or leaves something open that is not answered.

    Examples
    --------
    >>> [f.duration_s > 300 for f in read_log("sample_logs/plover")]
    Traceback (most recent call last):
    ...
    IsADirectoryError: sample_logs/plover is a folder; name one log
    """
    from importers.read import read

    if Path(path).is_dir():
        raise IsADirectoryError(f"{path} is a folder; name one log")
    return [draft.telemetry() for draft in read(look_at(path, answers=answers, mappings=mappings))]


def read_register(path: str | Path) -> RegisterFile:
    """Read a TOML file that describes an aircraft, packs, or both.

    Raises
    ------
    Refusal
        Naming line and key of whatever is wrong, with the nearest valid key.

    Examples
    --------
    >>> read_register("sample_logs/aircraft/tern.toml").aircraft.name
    'Tern'
    """
    from spooldown.register import parse

    return parse(Path(path).read_bytes(), str(path))


def analyse_flight(telemetry: Telemetry, context: FlightContext | None = None) -> FlightResult:
    """Analyse one flight; what the context does not say costs only the figures that need it.

    Examples
    --------
    >>> flight, = read_log("sample_logs/tern/tern-2026-04-18.csv")
    >>> analyse_flight(flight).phases.airborne_min.unit
    'min'
    """
    return _analyse(telemetry, context or FlightContext())


class LogbookResults(Struct, frozen=True):
    """Everything a logbook says: its flights, oldest first, and what is said over all of them."""

    flights: tuple[FlightRecord, ...]
    season: SeasonResult

    def __repr__(self) -> str:
        return f"LogbookResults({len(self.flights)} flights)"


@begun_anew()
def analyse_logbook(folder: str | Path) -> LogbookResults:
    """Analyse every flight of a logbook, with its notes and registered aircraft; kept results are used.

    Raises
    ------
    LogbookProblem
        If the logbook cannot be read.
    """
    from spooldown import register
    from spooldown.logbook.book import Logbook
    from spooldown.work.results import analysed, season

    with Logbook(Path(folder)) as book:
        known = register.load(book)
        flights = analysed(book, known)
        checks: dict[str, list[object]] = {}
        for _, aircraft, check in book.range_checks():
            checks.setdefault(aircraft, []).append(check)
        return LogbookResults(tuple(f.record for f in flights), season(book, flights, known, checks))  # type: ignore[arg-type]


@begun_anew()
def figures(
    folder: str | Path, measures: Collection[str] = (), aircraft: Collection[str] = (), flights: Collection[str] = ()
) -> pd.DataFrame:
    """Kept figures over the flights of a logbook, one row each: any figure over any number of flights, read at once.

    Parameters
    ----------
    folder : str or Path
        The logbook's. What is new in it is worked out first.
    measures, aircraft, flights : collection of str
        Only these, all where empty: ids of :data:`analyser.programme.measures.MEASURES` such as ``tank.burn_rate``,
        names of aircraft, ids of flights.

    Returns
    -------
    pandas.DataFrame
        ``flight``, ``aircraft``, ``utc_start``, ``measure``, ``part``, ``thing``, ``value``, ``low``, ``high``,
        ``unit``, ``method``, ``doubtful``; oldest flight first.

    Raises
    ------
    LogbookProblem
        If the logbook cannot be read, or its tables cannot be written.
    """
    from spooldown import register
    from spooldown.logbook.book import Logbook
    from spooldown.logbook.columns import Columns
    from spooldown.problems import LogbookProblem
    from spooldown.work.overview import overview

    with Logbook(Path(folder)) as book:
        overview(book, register.load(book), failures=[])
        wanted = {"measure": measures, "aircraft": aircraft, "flight": flights or book.flight_ids()}
        try:
            table = Columns(book.folder).read("figures", where={k: v for k, v in wanted.items() if v})
        except (OSError, ValueError) as error:
            raise LogbookProblem("logbook.tables_unreadable", folder=str(book.folder), why=str(error)) from error
    found: pd.DataFrame = table.to_pandas()
    return found.sort_values(["utc_start", "flight"], kind="stable", ignore_index=True)


def channels() -> pd.DataFrame:
    """Every channel the analyser knows, one row each: name, unit, range, what it is.

    Examples
    --------
    >>> channels().loc["pack.<name>.voltage_v", "unit"]
    'V'
    """
    import pandas as pd

    from analyser.core.channels import VOCABULARY

    rows = [
        {
            "channel": f"{c.subject}.{'<name>.' if c.has_instance else ''}{c.quantity}",
            "what": c.label,
            "unit": c.unit,
            "lowest": c.low,
            "highest": c.high,
        }
        for c in VOCABULARY
    ]
    return pd.DataFrame(rows).set_index("channel")


def in_words(said: Text, language: str = "en") -> str:
    """Say a finding, a label or a reason in a language.

    Examples
    --------
    >>> flight, = read_log("sample_logs/tern/tern-2026-04-18.csv")
    >>> in_words(analyse_flight(flight).phases.airborne_min.label, "de")
    'In der Luft'
    """
    from reports.words.catalogue import Reader, reading, text

    with reading(Reader(language)):
        return text(said)

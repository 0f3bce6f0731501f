"""Watching every figure that any page or the terminal writes, and holding it against the results it should come from.

One quantity has one value: what a page shows under a label is a figure of the results under that very label, not a
second one worked out on the way.
"""

from __future__ import annotations

import contextlib
import io
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from msgspec import Struct, field

import reports.render
import reports.tables
import reports.words.catalogue
import spooldown.flight_text
from analyser.core.figures import Figure, figures_of
from analyser.record import FlightRecord
from reports.model import FlightPage, Site
from reports.site import build_site
from spooldown.work.export import encode, identifier, rows_of

MADE_BY_PAGES = (
    "''", "Finding(bench.", "Finding(core.airborne)", "Finding(day.", "Finding(fuel.density)",
    "Finding(packs.capacity_of_label", "Finding(measure.", "Finding(unusual.",
)  # fmt: skip
"""Figures that are none of a flight's or a season's: notes, readings of the bench, sums of a day, a label's
own, medians of many flights before and after a change."""
Seen = tuple[str, str, float]
"""Label, unit and value of one figure."""


def seen_of(figure: Figure) -> Seen:
    """What must agree; to nine digits, so that a sum in another order is no second value."""
    return repr(figure.label), figure.unit, float(f"{figure.value:.9g}")


class Written(Struct):
    """What was written where; ``page`` is set by whoever builds."""

    page: str = ""
    figures: dict[Seen, set[str]] = field(default_factory=dict)

    def note(self, figure: Any) -> None:
        """Remember one figure."""
        if isinstance(figure, Figure) and figure.value is not None:
            self.figures.setdefault(seen_of(figure), set()).add(self.page)


@contextmanager
def watching() -> Iterator[Written]:
    """Note every figure written by pages, sentences and the terminal."""
    written = Written()

    def noting(write: Callable[[Any], str]) -> Callable[[Any], str]:
        def both(figure: Any) -> str:
            written.note(figure)
            return write(figure)

        return both

    with pytest.MonkeyPatch.context() as patch:
        for module, name in (
            (reports.render, "marked"), (reports.render, "bare"), (reports.words.catalogue, "quantity"),
            (reports.tables, "quantity"), (reports.tables, "bare"), (spooldown.flight_text, "quantity"),
        ):  # fmt: skip
            patch.setattr(module, name, noting(getattr(module, name)))
        reports.render._environment.cache_clear()
        yield written
    reports.render._environment.cache_clear()


def written_by(site: Site, folder: Path) -> Written:
    """Build every page of a site."""
    with watching() as written:

        def on(title: str, done: int, of: int) -> None:
            written.page = title

        build_site(site, folder, progress=on)
    return written


def pages_of(records: Iterable[FlightRecord], telemetry: Callable[[str], Any]) -> tuple[FlightPage, ...]:
    """Flights as pages need them, newest first."""
    made = [
        FlightPage(r, f"Flight {r.number}", "simulated", (), r.flight_id, lambda i=r.flight_id: telemetry(i))
        for r in records
    ]
    return tuple(reversed(made))


def strangers(written: Written, site: Site) -> dict[str, list[str]]:
    """Values written that no result holds, to nine digits and in that unit, by label; and where they stand.

    Labels are worded for a page, so that values tell where a figure comes from: nine digits do not agree by chance.
    """
    trees = [*(f.record.result for f in site.flights), *(f.record.context for f in site.flights), site.season]
    trees += [site.fleet.made()] if site.fleet else []
    known = {(f.unit, seen_of(f)[2]) for tree in trees for _, f in figures_of(tree) if f.value is not None}
    events = [e.depth for f in site.flights for e in f.record.result.events() if e.depth is not None]
    known |= {(f.unit, seen_of(f)[2]) for f in events if f.value is not None}
    out: dict[str, list[str]] = {}
    for (label, unit, value), pages in written.figures.items():
        if (unit, value) not in known and not label.startswith(MADE_BY_PAGES):
            out.setdefault(label, []).append(f"{value:g} {unit} on {', '.join(sorted(pages))}")
    return out


def sums_of(record: FlightRecord) -> Iterator[tuple[str, float, float]]:
    """Rows that must add up in one flight: what they are, one side, the other."""
    fuel = record.result.fuel
    aircraft = record.context.aircraft
    for t in fuel.tanks:
        c = t.content
        if c.left.value is not None and c.reserve.value is not None and c.margin.value is not None:
            yield f"left of {t.name}", c.left.value, c.reserve.value + c.margin.value
        parts = [p.burned.value for p in t.phases]
        if t.burn.burned.value is not None and parts and t.scale.own.value is None:
            yield f"phases of {t.name}", sum(v or 0.0 for v in parts), t.burn.burned.value
        if t.rate.value and t.burn.airborne.value is not None and record.result.phases.airborne_span:
            yield f"rate of {t.name}", t.rate.value * record.result.phases.airborne_s / 60.0, t.burn.airborne.value
    for whole, each in ((fuel.burned, [t.burned for t in fuel.tanks]), (fuel.rate, [t.rate for t in fuel.tanks])):
        if whole.value is not None and all(f.value is not None for f in each):
            yield repr(whole.label), whole.value, sum(f.value or 0.0 for f in each)
    if fuel.imbalance.value is not None and len(fuel.tanks) == 2:
        a, b = (t.rate.value or 0.0 for t in fuel.tanks)
        yield "imbalance", fuel.imbalance.value, 200.0 * (a - b) / (a + b)
    if fuel.mass.value is not None and fuel.burned.value and aircraft and aircraft.fuel:
        air = record.context.air_temperature_c
        stated = aircraft.fuel.density_15c_kg_m3
        if air is not None:
            # Kerosene grows by some 0.092 % a kelvin (ASTM D1250, table 54B, about 800 kg/m3); oil by share.
            oil = aircraft.fuel.oil_percent / 100.0
            jet = stated / 1000.0 * (1.0 - 9.2e-4 * (air - 15.0))
            density = (1.0 - oil) * jet + oil * aircraft.fuel.oil_density_kg_m3 / 1000.0
            yield "volume times density, g", fuel.burned.value * density, 1000.0 * fuel.mass.value
    for p in record.result.packs.packs:
        phases = [x.used_mah.value or 0.0 for x in p.charge.phases]
        if phases and p.charge.used_mah.value is not None:
            yield f"charge of {p.name} by phase", sum(phases), p.charge.used_mah.value


def not_adding_up(records: Iterable[FlightRecord]) -> list[str]:
    """Rows whose two sides differ by more than the last digit shown."""
    return [
        f"{r.flight_id}: {what}: {one:g} against {other:g}"
        for r in records
        for what, one, other in sums_of(r)
        if not abs(one - other) <= max(0.6, 2e-3 * abs(other))
    ]


def read_back(rows: Any, form: str) -> Any:
    """An export as another program reads it."""
    import pandas as pd

    data = encode(rows, form)
    if form == "csv":
        return pd.read_csv(io.BytesIO(data))
    return pd.read_json(io.BytesIO(data)) if form == "json" else pd.read_parquet(io.BytesIO(data))


def export_strays(found: Any, form: str) -> list[str]:
    """Values of an export that are none of the results', beyond the rounding that exports give; '' rows missing too.

    A value is rounded to two digits of its half interval, or one digit more than pages show: what is left of it may
    differ by half a unit of that digit and by no more.
    """
    wrong = []
    rows = read_back(rows_of(found, "figures"), form)
    told = {(one.flight.flight_id, identifier(p)): f for one in found for p, f in figures_of(one.record.result)}
    if len(rows) != sum(1 for one in found for _ in figures_of(one.record.result)):
        wrong.append(f"{len(rows)} figures")
    for flight, name, *ends in rows[["flight", "figure", "value", "low", "high"]].itertuples(index=False):
        figure = told[flight, name]
        for said, own in zip(ends, (figure.value, figure.low, figure.high), strict=True):
            missing = said is None or said != said
            if missing != (own is None or own != own) or (
                not missing and own is not None and abs(said - own) > slack_of(figure)
            ):
                wrong.append(f"{flight} {name}: {said} for {own}")
    events = read_back(rows_of(found, "events"), form)
    own_events = [e for one in found for e in one.record.result.events()]
    gathered = read_back(rows_of(found, "events", together=True), form)
    if len(events) != len(own_events) or int(gathered["times"].sum()) != len(own_events):
        wrong.append(f"{len(events)} events, {gathered['times'].sum()} gathered, for {len(own_events)}")
    for row, event in zip(events.itertuples(index=False), own_events, strict=False):
        if (row.kind, row.subject) != (event.kind, event.subject) or abs(row.start_s - event.start_s) > 1e-6:
            wrong.append(f"{row.flight} {row.kind} {row.start_s}")
    flights = read_back(rows_of(found, "flights"), form)
    for row, one in zip(flights.itertuples(index=False), found, strict=True):
        if row.flight != one.flight.flight_id or abs(row.airborne_s - one.record.result.phases.airborne_s) > 1e-6:
            wrong.append(f"{row.flight}: {row.airborne_s} s airborne")
    return wrong


def off(said: float, own: float | None) -> float:
    """How far one value is from the other; without limit where there is none."""
    return float("inf") if own is None else abs(said - own)


def slack_of(figure: Figure) -> float:
    """Half a unit of the last digit an export gives."""
    return 0.5 * 10.0 ** -(figure.digits if figure.low is not None else figure.digits + 1) + 1e-9


def said_by_terminal(shown: Iterable[Any]) -> Written:
    """Print every flight with all its figures."""
    with watching() as written, contextlib.redirect_stdout(io.StringIO()):
        for one in shown:
            written.page = f"terminal, {one.flight.flight_id}"
            spooldown.flight_text.show_flight(one, every=True)
    return written

"""One flight on one sheet of paper: the outcome and the figures that matter, nothing to click."""

from __future__ import annotations

from dataclasses import replace

from analyser.figures import Figure
from reports.called import called
from reports.model import FlightPage
from reports.outcome import outcomes
from reports.pages.flight import path_of
from reports.render import Shell, page
from reports.words import told


def render(flight: FlightPage, shell: Shell) -> str:
    """Make the card; it needs no telemetry."""
    record = flight.record
    result = record.result
    blocks: list[tuple[str, list[Figure]]] = [
        ("Fuel", [result.fuel.burned_ml, result.fuel.airborne_rate_ml_per_min, result.fuel.imbalance_percent])
    ]
    for t in result.fuel.tanks:
        blocks.append(
            (
                f"Tank {t.name}",
                [t.burned_ml, t.airborne_rate_ml_per_min, t.left_at_landing_ml, t.margin_ml, t.put_in_ml],
            )
        )
    for p in result.packs.packs:
        title = f"Pack {p.pack or p.name}" + (f" ({p.name})" if p.pack and p.pack != p.name else "")
        blocks.append(
            (
                title,
                [
                    p.used_mah,
                    p.airborne_rate_mah_per_min,
                    p.min_voltage_v,
                    p.worst_sag_v,
                    p.resistance_mohm,
                    p.cell_spread_v,
                ],
            )
        )
    for r in result.link.receivers:
        figures = [r.lost_frames, r.failsafe_s]
        for a in r.antennas:
            figures += [replace(f, label=told(f.label, f"antenna{a.number}")) for f in (a.fades, a.fade_seconds)]
        blocks.append((f"Receiver {r.name}", figures))
    for e in result.turbine.engines:
        blocks.append((f"Engine {e.name}", [e.run_min, e.max_rpm, e.max_egt_c, e.cool_down_s]))
    shown = [(name, [f for f in figures if f.value is not None]) for name, figures in blocks]
    heavy = sorted(result.events(), key=lambda e: (-e.level, e.start_s))
    return page(
        "card.html",
        replace(shell, labelled=flight.labelled or shell.labelled),
        title=f"Card: {flight.title}",
        flight=flight,
        record=record,
        outcomes=outcomes(record),
        own=called(record.context),
        blocks=[(n, f) for n, f in shown if f],
        events=[e for e in heavy if e.level > 0][:8],
        back=path_of(record.flight_id).rpartition("/")[2],
    )

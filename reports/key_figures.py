"""The figures a reader looks for first, a small table a subject; a flight's page and its card show the same."""

from __future__ import annotations

import re

from analyser.core.figures import Figure
from analyser.flight import FlightResult
from reports.tables import Head, Matrix
from reports.words.catalogue import message
from reports.words.names import heading, said
from reports.words.units import conversion
from reports.words.vocabulary import method_word


def key_figures(result: FlightResult) -> dict[str, tuple[Matrix, ...]]:
    """The figures a reader looks for first, by their subject."""
    fuel = result.fuel
    tanks: list[tuple[str, tuple[Figure | None, ...]]] = [
        (
            heading(f"fuel.{t.name}"),
            (t.burned, t.rate, t.scale.put_in, t.left, t.margin),
        )
        for t in fuel.tanks
    ]
    if len(tanks) > 1:
        every = (fuel.burned, fuel.rate, None, None, None)
        tanks.append((message("head.fuel.all"), every))
    packs: list[tuple[str, tuple[Figure | None, ...]]] = [
        (
            heading(f"pack.{p.name}"),
            (
                p.charge.used_mah,
                p.charge.airborne_mah_per_min,
                p.voltage.lowest_v,
                p.voltage.deepest_sag_v,
                p.voltage.cell_spread_v,
                p.resistance.value_mohm,
                p.capacity.told_mah,
            ),
        )
        for p in result.packs.packs
    ]
    antennas: list[tuple[str, tuple[Figure | None, ...]]] = [
        (
            antenna_heading(a.name),
            (a.median_signal, a.lowest_margin_db, a.fades, a.fade_seconds, a.lost_packets),
        )
        for r in result.link.receivers
        for a in r.antennas
    ]
    receivers: list[tuple[str, tuple[Figure | None, ...]]] = [
        (heading(f"link.{r.name}"), (r.lost_frames, r.lost_frames_share, r.failsafe_s, r.fades_together, r.fades_saved))
        for r in result.link.receivers
    ]
    engines: list[tuple[str, tuple[Figure | None, ...]]] = [
        (heading(f"engine.{e.name}"), (e.run_min, e.max_rpm, e.max_egt_c, e.idle_rpm, e.cool_down_s))
        for e in result.turbine.engines
    ]
    return {
        "fuel": _matrix("fuel", ("burned", "rate", "put_in", "left", "margin"), tanks),
        "pack": _matrix("pack", ("used", "rate", "lowest", "sag", "spread", "resistance", "capacity"), packs),
        "link": _matrix("antenna", ("median", "margin", "fades", "fade_time", "missed"), antennas)
        + _matrix("receiver", ("missed", "share", "failsafe", "together", "covered"), receivers),
        "engine": _matrix("engine", ("ran", "speed", "hottest", "idle", "cool_down"), engines),
    }


def antenna_heading(key: str) -> str:
    """An antenna as a heading; a log with one signal for the whole receiver names that."""
    return heading(key if ".antenna" in key else f"link.{key}")


def _matrix(
    subject: str, columns: tuple[str, ...], rows: list[tuple[str, tuple[Figure | None, ...]]]
) -> tuple[Matrix, ...]:
    kept = [n for n in range(len(columns)) if any((f := r[1][n]) is not None and f.value is not None for r in rows)]
    if not kept:
        return ()
    heads = []
    for n in kept:
        known = [f for _, r in rows if (f := r[n]) is not None and f.value is not None]
        unit = conversion(known[0].unit).unit
        methods = {f.method for f in known}
        how = "; ".join(dict.fromkeys(_ways(known)))
        label = message(f"head.{subject}.{columns[n]}")
        heads.append(
            Head(
                f"{label}, {unit}" if unit and unit != "1" else label,
                method_word(methods.pop()) if len(methods) == 1 else "",
                how,
            )
        )
    return (Matrix(tuple(heads), tuple((name, tuple(r[n] for n in kept)) for name, r in rows)),)


def _ways(figures: list[Figure]) -> list[str]:
    """How the figures of a column were obtained; ways that differ in their numbers alone are one way."""
    ways: dict[str, str] = {}
    for figure in figures:
        if figure.how:
            words = said(figure.how)
            ways.setdefault(re.sub(r"[\d.,]+", "#", words), words)
    return list(ways.values())

"""Supply and plugs on the bench: how low the bus goes, what one pack carries alone, and which plug feeds what."""

from __future__ import annotations

from analyser.bench.codes import BenchCode
from analyser.bench.procedures import BenchRecord, Procedure
from analyser.core.aircraft import Aircraft, Pack
from analyser.core.figures import Figure, Method
from analyser.core.findings import Finding, Part, say
from analyser.core.levels import Level, Limits

VOLTS_WITHIN = 0.05
"""Half width of the 95 % interval of a logged lowest voltage, V (common practice, no source)."""


def lowest(record: BenchRecord, aircraft: Aircraft | None, pack: Pack | None, limits: Limits) -> tuple[
    Level, tuple[Figure, ...], tuple[Finding, ...]
]:  # fmt: skip
    """Lowest voltage of the bus, and how far above the level at which receivers may stop.

    Returns
    -------
    Level, figures, findings
        ``Can't tell`` where no such level is stated.
    """
    pulled = record.procedure is Procedure.PULLED
    label = say(BenchCode.READING, name="lowest_v")
    volts = record.value("lowest_v") or 0.0
    low = Figure(
        label, volts, "V", record.method("lowest_v"), low=volts - VOLTS_WITHIN, high=volts + VOLTS_WITHIN, digits=2
    )
    # What receivers and servos need comes first: a pulled pack's own level says nothing of the rest.
    stated = (aircraft.brown_out_v if aircraft else None) or (pack.brown_out_v if pack else None)
    margin = say(BenchCode.ABOVE_BROWN_OUT)
    if stated is None:
        return (
            Level.CANT_TELL,
            (low, Figure.unavailable(margin, "V", say(BenchCode.NEEDS_BROWN_OUT))),
            (say(BenchCode.NEEDS_BROWN_OUT), *shares(record)),
        )
    above = Figure(margin, volts - stated, "V", record.method("lowest_v"), low=volts - stated - VOLTS_WITHIN,
                   high=volts - stated + VOLTS_WITHIN, digits=2)  # fmt: skip
    fell = (above.low or 0.0) < 0.0
    level = limits.matter("bench_brown_out") if fell else Level.FINE
    if pulled:
        code = BenchCode.NOT_CARRIED if fell else BenchCode.CARRIED_ALONE
        return level, (low, above), (say(code, pack=record.subject, lowest=low),)
    found = (say(BenchCode.BELOW_BROWN_OUT, lowest=low, stated=stated),) if fell else ()
    return level, (low, above), (*found, *shares(record))


def shares(record: BenchRecord) -> tuple[Finding, ...]:
    """How the packs shared the charge, percent each; nothing where the log did not tell."""
    percents = record.values.get("shares_percent", ())
    if not percents or len(percents) != len(record.others):
        return ()
    each = tuple(
        Figure(Part(name), percent, "%", Method.INTEGRATED, digits=0)
        for name, percent in zip(record.others, percents, strict=True)
    )
    return (say(BenchCode.SHARED, packs=tuple(Part(n) for n in record.others), shares=each),)


def plugs(record: BenchRecord, limits: Limits) -> tuple[Level, tuple[Finding, ...]]:
    """Whether the channels of the engine that was run moved, or another's."""
    engine = Part(f"engine.{record.subject}")
    moved = record.choices.get("moved", "")
    if moved == "others" or (record.others and moved != "its own"):
        others = tuple(Part(o) for o in record.others)
        return limits.matter("bench_swapped"), (say(BenchCode.SWAPPED, engine=engine, others=others),)
    if moved == "nothing":
        return limits.matter("bench_nothing_moved"), (say(BenchCode.NOTHING_MOVED, engine=engine),)
    return Level.FINE, (say(BenchCode.OWN_MOVED, engine=engine),)

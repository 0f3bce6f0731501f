"""What was proved on the ground: an aircraft's bench procedures, newest first, side beside side."""

from __future__ import annotations

from analyser.bench.analysis import BenchLine, BenchResult, caution
from analyser.bench.procedures import PROCEDURES, Of
from analyser.core.aircraft import Aircraft
from analyser.core.levels import Level
from reports.addresses import slug
from reports.figures.sparks import trace
from reports.render import Shell, page
from reports.words.catalogue import message, text, word
from reports.words.names import channel_label, names_on, naming


def path_of(aircraft: str) -> str:
    """Where an aircraft's page of bench procedures is, from the root of the pages."""
    return f"bench/{slug(aircraft)}.html"


def of_pack(results: dict[str, BenchResult], pack: str) -> list[BenchLine]:
    """Every line about one pack, whoever's bench it was, newest first."""
    lines = [
        line
        for result in results.values()
        for line in result.lines
        if PROCEDURES[line.record.procedure].of is Of.PACK and line.record.subject == pack
    ]
    return sorted(lines, key=lambda line: (line.record.day, line.number), reverse=True)


def open_matters(result: BenchResult | None) -> list[tuple[BenchLine, str]]:
    """What the latest runs ask a person for, each with its sentences."""
    return [
        (line, " ".join(text(f) for f in line.findings))
        for line in (result.latest if result else ())
        if line.level >= Level.WATCH
    ]


def render(aircraft: Aircraft, result: BenchResult, shell: Shell) -> str:
    """Make the page of one aircraft's bench procedures."""
    with naming(names_on(aircraft)):
        groups = [
            (
                word("bench_procedure", procedure.value),
                procedure.value,
                [x for x in result.latest if x.record.procedure is procedure],
            )
            for procedure in PROCEDURES
        ]
        used = [*result.calibrations.items(), *result.deliveries.items()]
        done = {PROCEDURES[line.record.procedure].of for line in result.lines}
        return page(
            "bench.html",
            shell,
            title=message("bench_says.page", aircraft=aircraft.name),
            aircraft=aircraft,
            groups=[g for g in groups if g[2]],
            missing=[name for name, _, lines in groups if not lines],
            lines=result.lines,
            used=used,
            pairs=result.pairs,
            uneven=result.uneven,
            pictures={
                line.number: [trace(channel_label(t.channel), t.unit, t.time_s, t.values) for t in line.record.traces]
                for line in result.lines
            },
            warned=[caution(of) for of in Of if of in done],
        )

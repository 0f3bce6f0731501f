"""Two files of one flight laid over each other: the traces, the offset that was found, and what it rests on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from markupsafe import Markup
from msgspec import Struct

from analyser.core.findings import Part
from analyser.core.telemetry import Telemetry
from importers.join import offset, shared_or_linked
from importers.read import read
from reports.words.catalogue import message, text
from spooldown.desk.incoming import Batch
from spooldown.desk.review.layouts import planned
from spooldown.logbook.book import Logbook
from spooldown.problems import UsageProblem
from spooldown.register import Register

WIDTH, HEIGHT, POINTS = 900, 150, 700
MOST_PAIRS = 3


class Overlay(Struct, frozen=True):
    """One further file over the first.

    ``offset_s`` is what to add to its time; ``how`` says where that comes from; ``least_s`` … ``most_s`` is the stretch
    in which the two overlap at all. ``pictures`` are drawn at offset zero, the further file's curve in a group that a
    shift of ``px_per_s`` puts in its place.
    """

    number: int
    first: str
    other: str
    offset_s: float
    how: str
    least_s: float
    most_s: float
    px_per_s: float
    pictures: tuple[tuple[str, Markup], ...]


def overlays(batch: Batch, book: Logbook, register: Register) -> list[Overlay]:
    """Lay every further file of a batch over the first.

    Raises
    ------
    Refusal, Problem
        If a file cannot be read so far, or holds more than one flight.
    """
    saved = book.mapping_files()
    flights = []
    for file in batch.logs():
        proposed = planned(batch, file, saved, register)
        if proposed.questions:
            raise UsageProblem(message("desk.together.open", name=file.name))
        drafts = [d.telemetry() for d in read(proposed)]
        if len(drafts) != 1:
            raise UsageProblem(message("desk.together.several", name=file.name, n=len(drafts)))
        flights.append((file.name, drafts[0]))
    if len(flights) < 2:
        raise UsageProblem(message("desk.together.one"))
    (name, first), *others = flights
    return [_overlay(n, name, first, other, batch) for n, other in enumerate(others)]


def _overlay(number: int, name: str, first: Telemetry, other: tuple[str, Telemetry], batch: Batch) -> Overlay:
    other_name, second = other
    said = batch.offsets.get(number)
    found = offset(first, second)
    if said is not None:
        shift, how = said, message("desk.together.entered")
    elif found is not None:
        sure = message("desk.together.found", how=found.how, confidence=found.confidence)
        shift, how = found.seconds, sure
    else:
        shift, how = 0.0, message("desk.together.not_found")
    begin = min(0.0, shift)
    end = max(first.duration_s, shift + second.duration_s)
    per_s = WIDTH / max(end - begin, 1.0)
    pictures = []
    for a, b in shared_or_linked(first, second)[:MOST_PAIRS]:
        label = text(Part(a)) if a == b else f"{text(Part(a))} / {text(Part(b))}"
        pictures.append((label, _picture(first, a, second, b, shift, (begin, per_s), label)))
    return Overlay(
        number, name, other_name, round(shift, 2), how, round(-second.duration_s, 1), round(first.duration_s, 1),
        per_s, tuple(pictures),
    )  # fmt: skip


def _picture(
    first: Telemetry, a: str, second: Telemetry, b: str, shift_s: float, window: tuple[float, float], label: str
) -> Markup:
    begin, per_s = window
    one, two = (_path(t, name, begin, per_s) for t, name in ((first, a), (second, b)))
    return Markup(
        '<svg class="overlay" viewBox="0 0 {} {}" role="img" aria-label="{}" preserveAspectRatio="none">'
        '<path class="one" d="{}"/><g class="two" transform="translate({:.2f} 0)"><path d="{}"/></g></svg>'
    ).format(WIDTH, HEIGHT, label, one, shift_s * per_s, two)


def _path(flight: Telemetry, channel: str, begin_s: float, per_s: float) -> str:
    """A channel as a line over the whole height: the two need not have one unit to be lined up."""
    series = flight.series(channel)
    values, time_s = np.asarray(series.values, float), np.asarray(series.time_s, float)
    good = np.isfinite(values)
    values, time_s = values[good], time_s[good]
    if not values.size:
        return ""
    from reports.figures.decimate import keep

    chosen = keep(time_s, values, POINTS)
    low, high = float(values.min()), float(values.max())
    x = (time_s[chosen] - begin_s) * per_s
    y = HEIGHT - 6 - (values[chosen] - low) / ((high - low) or 1.0) * (HEIGHT - 12)
    return "M" + "L".join(f"{p:.1f} {q:.1f}" for p, q in zip(x, y, strict=True))


def offsets_from(typed: Sequence[tuple[int, str]], count: int) -> dict[int, float]:
    """Offsets as typed, by number of the further file.

    Raises
    ------
    UsageProblem
        If one is no number of seconds.
    """
    out = {}
    for number, written in typed:
        if not written or not 0 <= number < count:
            continue
        try:
            seconds = float(written.replace(",", ".").replace("\N{MINUS SIGN}", "-"))
        except ValueError:
            seconds = float("nan")
        if not np.isfinite(seconds) or abs(seconds) > 1e6:
            raise UsageProblem(message("desk.together.no_number", text=written))
        out[number] = seconds
    return out

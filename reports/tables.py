"""Rows of figures, written without a template: a flight's page has three hundred of them."""

from __future__ import annotations

import functools
from collections.abc import Iterable

from analyser.core.figures import Figure
from reports.markup import Ready, gloss, shown
from reports.words.catalogue import interval, message, quantity, upper_first
from reports.words.names import said
from reports.words.vocabulary import method_means, method_word


def supported(figures: Iterable[Figure]) -> tuple[list[Figure], list[Figure]]:
    """Figures that the log supports, and those that it does not."""
    known: list[Figure] = []
    lost: list[Figure] = []
    for figure in figures:
        (lost if figure.value is None else known).append(figure)
    return known, lost


def figure_rows(figures: Iterable[Figure]) -> Ready:
    """Rows of a table: what, value, interval, and how it was obtained, folded."""
    return Ready("".join(map(_row, figures)))  # of pieces that are ready  # nosec B704


def _row(figure: Figure) -> str:
    between = interval(figure)
    sure = message("figures.confidence", percent=round(figure.confidence * 100)) if between else ""
    method = figure.method
    how = said(figure.how) if figure.how else method_means(method)
    missing = said(figure.missing) if figure.missing else ""
    obtained = _obtained(method_word(method), how, sure, missing, tuple(map(said, figure.doubts)))
    return (
        f'<tr><th scope="row">{gloss(figure.label)}</th><td class="num nowrap">{shown(quantity(figure))}</td>'
        f'<td class="nowrap">{shown(between)}</td><td>{obtained}</td></tr>\n'
    )


@functools.lru_cache(1 << 12)  # a flight's figures share how they were obtained, and flights share it too
def _obtained(method: str, how: str, sure: str, missing: str, doubts: tuple[str, ...]) -> str:
    more = "".join(f" {shown(words)}" for words in (sure, missing) if words)
    return (
        f'<details class="how"><summary>{shown(method)}{" †" if doubts else ""}</summary>\n'
        f"<p>{shown(upper_first(how))}.{more}</p>\n"
        + "".join(f'<p class="doubt">† {shown(doubt)}</p>' for doubt in doubts)
        + "</details>\n"
    )

"""Tables of figures, written without a template: a flight's page has three hundred rows and a hundred cells."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property, lru_cache

from msgspec import Struct

from analyser.core.figures import Figure
from reports.markup import Ready, gloss, shown
from reports.words.catalogue import interval, message, number, quantity, upper_first
from reports.words.names import said
from reports.words.units import conversion
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


@lru_cache(1 << 12)  # a flight's figures share how they were obtained, and flights share it too
def _obtained(method: str, how: str, sure: str, missing: str, doubts: tuple[str, ...]) -> str:
    more = "".join(f" {shown(words)}" for words in (sure, missing) if words)
    return (
        f'<details class="how"><summary>{shown(method)}{" †" if doubts else ""}</summary>\n'
        f"<p>{shown(upper_first(how))}.{more}</p>\n"
        + "".join(f'<p class="doubt">† {shown(doubt)}</p>' for doubt in doubts)
        + "</details>\n"
    )


def doubted(figure: Figure) -> str:
    """A dagger that says on hover what speaks against a figure; empty where nothing does."""
    if not figure.doubts:
        return ""
    return f' <abbr title="{shown(" ".join(map(said, figure.doubts)))}">†</abbr>'


def marked(figure: Figure) -> Ready:
    """A figure's value and unit, and the dagger where it is in doubt: wherever a page shows one by itself."""
    return Ready(f"{shown(quantity(figure))}{doubted(figure)}")  # of pieces that are ready  # nosec B704


def bare(figure: Figure) -> str:
    """A figure's value as the reader wants it, its unit standing elsewhere; a percentage keeps its sign."""
    if figure.value is None:
        return "–"
    to = conversion(figure.unit)
    written = number(to.value(figure.value), figure.digits + to.digits)
    return f"{written}\u00a0%" if figure.unit == "%" else written


class Head(Struct, frozen=True):
    """What a column of a matrix holds, with its unit.

    ``method`` is empty where the column's figures differ in it; ``how`` says how they were obtained, each way once.
    """

    label: str
    method: str
    how: str


class Matrix(Struct, frozen=True, dict=True):
    """The key figures of one subject: a row a thing (a tank, a pack), a column a figure, units in the heads.

    A method that differs within a column stands at its values.
    """

    heads: tuple[Head, ...]
    rows: tuple[tuple[str, tuple[Figure | None, ...]], ...]

    @cached_property
    def table(self) -> Ready:
        """Head and body of the table, written once, as the reader wants it who asks first."""
        methods = (f" <small>{shown(h.method)}</small>" if h.method else "" for h in self.heads)
        heads = "".join(
            f'<th scope="col" class="num">{gloss(h.label)}{method}</th>'
            for h, method in zip(self.heads, methods, strict=True)
        )
        rows = (
            f'<tr><th scope="row">{shown(name)}</th>{"".join(map(_cell, row, self.heads))}</tr>\n'
            for name, row in self.rows
        )
        return Ready(f"<thead><tr><td></td>{heads}</tr></thead>\n<tbody>{''.join(rows)}</tbody>")  # nosec B704


def _cell(figure: Figure | None, head: Head) -> str:
    if figure is None or figure.value is None:
        return '<td class="num">–</td>'
    between = interval(figure)
    return (
        f'<td class="num">{shown(bare(figure))}{doubted(figure)}'
        + (f"<br><small>{shown(between)}</small>" if between else "")
        + ("" if head.method else f"<br><small>{shown(method_word(figure.method))}</small>")
        + "</td>"
    )

"""Rows of figures written without a template: everything escaped, nothing lost."""

from __future__ import annotations

from html.parser import HTMLParser

from analyser.core.figures import Figure, Method
from reports.tables import figure_rows


class _Cells(HTMLParser):
    """Tags and texts as a reader of HTML sees them (the standard library's parser, no code of ours)."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.text += data


def test_nothing_in_a_figure_becomes_markup_or_acts_unseen() -> None:
    bad = "<script>alert(1)</script>\u202eabc"
    figure = Figure(bad, 1234.5, "<b>", Method.ESTIMATED, 1200.0, 1300.0, how=bad, digits=1).with_doubt(bad)
    seen = _Cells(str(figure_rows([figure])))
    assert seen.tags == ["tr", "th", "td", "td", "td", "details", "summary", "p", "p"]
    assert seen.text.count("<script>alert(1)</script>") == 3
    assert "\u202e" not in seen.text
    assert "1\u202f234.5\u00a0<b>" in seen.text
    assert "1\u202f200.0 to 1\u202f300.0" in seen.text
    assert "95\u00a0%" in seen.text
    assert "†" in seen.text


def test_each_figure_is_a_row_of_its_own() -> None:
    rows = figure_rows(Figure(str(n), float(n), "s", Method.MEASURED) for n in range(5))
    assert _Cells(str(rows)).tags.count("tr") == 5

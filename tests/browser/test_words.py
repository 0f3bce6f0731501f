"""Pages are looked at, not read: the words that each shows before anything is unfolded are counted."""

from __future__ import annotations

import pytest

from tests.browser.conftest import one

pytestmark = pytest.mark.browser

SHOWN = """(() => { const unread = ['OPTION', 'svg', 'SCRIPT', 'CODE'];
  const words = (node) => { let n = 0; for (const child of node.childNodes) {
    if (child.nodeType === 3) n += (child.textContent.match(/\\p{L}{2,}/gu) || []).length;
    else if (child.nodeType === 1 && child.checkVisibility() && !unread.includes(child.tagName)) n += words(child);
  } return n; };
  return words(document.querySelector('main')); })()"""
# Words of two letters or more, of the invented site of ten flights; a page that grows past its budget becomes a wall.
BUDGETS = {
    "index.html": 250,
    "season.html": 420,
    "compare.html": 120,
    "field-sheet.html": 260,
    "flights/tern-003.html": 700,
    "flights/tern-003-card.html": 260,
    "days/2*.html": 110,
    "packs/r2-*.html": 330,
    "aircraft/tern-*.html": 330,
    "antennas/tern-*.html": 380,
}


@pytest.mark.parametrize("pattern", BUDGETS)
def test_no_page_is_a_wall_of_words(built, open_page, pattern) -> None:
    page = open_page().goto(one(built, pattern)).page
    assert 10 < page.evaluate(SHOWN) <= BUDGETS[pattern]

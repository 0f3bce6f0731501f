"""The guide lists every channel as the vocabulary has it."""

from analyser.core.channels import VOCABULARY
from tests.importers.channels_page import PAGE, page


def test_the_guide_lists_all_channels():
    """Where this fails, run ``python -m tests.importers.channels_page``."""
    text = PAGE.read_text(encoding="utf-8")
    assert text == page()
    assert all(c.label in text and c.quantity.replace("<n>", "N") in text for c in VOCABULARY)

"""The words these pages use."""

from __future__ import annotations

from msgspec.structs import replace

from analyser.core.events import Level
from analyser.core.figures import Method
from reports.render import Shell, page
from reports.words.catalogue import message
from reports.words.vocabulary import glossary


def render(shell: Shell) -> str:
    """Make the glossary."""
    return page(
        "glossary.html",
        replace(shell, here="glossary"),
        title=message("page.glossary.title"),
        words=sorted(glossary().items(), key=lambda w: w[0].lower()),
        methods=tuple(Method),
        levels=sorted(Level, reverse=True),
    )

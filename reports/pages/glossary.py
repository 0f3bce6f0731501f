"""The words these pages use."""

from __future__ import annotations

from dataclasses import replace

from reports.render import Shell, page
from reports.words import GLOSSARY, LEVEL_MEANS, METHOD_MEANS


def render(shell: Shell) -> str:
    """Make the glossary."""
    return page(
        "glossary.html",
        replace(shell, here="glossary"),
        title="Glossary",
        words=sorted(GLOSSARY.items(), key=lambda w: w[0].lower()),
        methods=METHOD_MEANS.items(),
        levels=sorted(LEVEL_MEANS.items(), reverse=True),
    )

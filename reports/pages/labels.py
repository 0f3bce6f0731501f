"""Labels for packs to print and cut out: the name large, and as a QR code for a phone to read."""

from __future__ import annotations

import io

from markupsafe import Markup
from msgspec.structs import replace

from analyser.core.aircraft import Pack
from reports.model import Site
from reports.render import Shell, page
from reports.words.catalogue import message


def code_of(name: str) -> Markup:
    """A pack's name as a QR code (ISO/IEC 18004, by segno; error correction M), as inline SVG."""
    import segno  # slow to load, and labels seldom change

    out = io.BytesIO()
    segno.make(name, error="m", micro=False).save(
        out, kind="svg", xmldecl=False, svgns=True, svgclass="qr", lineclass=None, omitsize=True, border=2
    )
    return Markup(out.getvalue().decode("utf-8").strip())  # segno's own drawing; the name is in it as modules only  # nosec B704


def render(site: Site, shell: Shell) -> str:
    """Make a sheet with a label for each pack."""
    packs: list[tuple[Pack, Markup]] = [(h.pack, code_of(h.pack.name)) for h in site.season.packs if h.pack.name]
    packs.sort(key=lambda p: p[0].name)
    return page("labels.html", replace(shell, here="sheet"), title=message("labels.title"), packs=packs)

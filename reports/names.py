"""Names from files made fit for file names and addresses."""

from __future__ import annotations

import hashlib
import re
import unicodedata


def slug(name: str) -> str:
    """Make a file name of any text: lower-case ASCII letters, digits and hyphens, never empty.

    A name that is not already such a file name gets six hex digits of its hash, so that two names never share a page.
    """
    if re.fullmatch(r"[a-z0-9]+(?:-[a-z0-9]+)*", name) and len(name) <= 48:
        return name
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii").lower()
    short = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40].strip("-")
    digest = hashlib.sha256(name.encode("utf-8", "surrogatepass")).hexdigest()[:6]
    return f"{short or 'unnamed'}-{digest}"

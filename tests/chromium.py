"""Where Chromium is, and how it is started for tests."""

from __future__ import annotations

import shutil

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def chromium_path() -> str | None:
    return next((p for n in ("chromium", "chromium-browser", "google-chrome") if (p := shutil.which(n))), None)

"""Take the README's pictures from a built demo: ``python tools/screenshots.py DEMO OUT``."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

ARGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-sync"]
WIDTH = 1120
# Name of each picture: the pages it may show (the first that the pattern finds, counted from the end for the latest),
# how far down it reaches, and what follows the page in the address. Page names may carry a hash behind the name.
WANTED = {
    "start": ("index.html", 0, 1080, ""),
    "flight": ("flights/tern*.html", -1, 1450, ""),
    "compare": ("compare.html", 0, 1180, "#f=tern-2026-09-19-a,tern-2026-08-01-a,tern-2026-05-02-a"),
    "antennas": ("antennas/tern*.html", 0, 1330, ""),
    "season": ("season.html", 0, 1180, ""),
    "pack": ("packs/r2*.html", 0, 1330, ""),
    "aircraft": ("aircraft/tern*.html", 0, 1330, ""),
}


def pages(folder: Path) -> dict[str, tuple[str, int]]:
    """Name of each picture, the address it shows and its height."""
    found = {}
    for name, (pattern, which, height, fragment) in WANTED.items():
        fitting = sorted(p for p in folder.glob(pattern) if not p.stem.endswith("-card"))
        if not fitting:
            raise SystemExit(f"{folder}: no page {pattern}; run `make demo` first")
        found[name] = (fitting[which].as_uri() + fragment, height)
    return found


def main(demo: str, out: str) -> None:
    """Open each page at one width, scroll through it so that its plots are drawn, and save its upper part."""
    target = Path(out)
    target.mkdir(parents=True, exist_ok=True)
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=ARGS)
        for name, (address, height) in pages(Path(demo).resolve() / "pages").items():
            view = browser.new_page(viewport={"width": WIDTH, "height": height})
            view.goto(address)
            view.mouse.wheel(0, height)
            view.wait_for_timeout(700)
            view.evaluate("window.scrollTo(0, 0)")
            view.wait_for_timeout(700)
            view.screenshot(path=target / f"{name}.png")
            print(f"{target / name}.png")
            view.close()
        browser.close()


if __name__ == "__main__":
    main(*sys.argv[1:3])

"""Take the README's pictures from a built demo: ``python tools/screenshots.py DEMO OUT``."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

ARGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-sync"]
WIDTH, HEIGHT = 1200, 900


def pictures(pages: Path) -> dict[str, Path]:
    """Name of each picture and the page it shows: the first of its kind with the story on it."""
    first = {kind: sorted((pages / kind).glob("*.html")) for kind in ("flights", "packs", "antennas", "aircraft")}
    wanted = {
        "start": pages / "index.html",
        "flight": next((p for p in reversed(first["flights"]) if "tern" in p.name), None),
        "antennas": next((p for p in first["antennas"] if "tern" in p.name), None),
        "pack": next((p for p in first["packs"] if p.stem == "r2"), None),
        "aircraft": next((p for p in first["aircraft"] if "tern" in p.name), None),
    }
    lacking = [name for name, page in wanted.items() if page is None or not page.exists()]
    if lacking:
        raise SystemExit(f"{pages}: no page for {', '.join(lacking)}; run `make demo` first")
    return {name: page for name, page in wanted.items() if page}


def main(demo: str, out: str) -> None:
    """Open each page at one size and save what is seen."""
    target = Path(out)
    target.mkdir(parents=True, exist_ok=True)
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=ARGS)
        view = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT})
        for name, page in pictures(Path(demo) / "pages").items():
            view.goto(page.resolve().as_uri())
            view.wait_for_timeout(1500)  # let the plots draw
            view.screenshot(path=target / f"{name}.png")
            print(f"{target / name}.png")
        browser.close()


if __name__ == "__main__":
    main(*sys.argv[1:3])

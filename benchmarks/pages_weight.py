"""Weight and speed of the pages: an hour at 50 Hz with 40 channels, and a logbook of a thousand flights.

Prints bytes against the budget of 1 MB, and the time to the first plot against the budgets of 0.8 s, and of 2.5 s at a
quarter of the processor's speed. Run from the repository's root.
"""

from __future__ import annotations

import shutil
import tempfile
import time
from pathlib import Path

from msgspec.structs import replace

from reports.model import OverFlights
from reports.pages import start
from reports.render import Shell
from reports.site import build_site
from tests.reports import invented

MEGABYTE = 1_000_000


def first_plot(file: Path, slower: int) -> tuple[float, float] | None:
    """Seconds to the first plot: by the clock, and of the processor's time in the page's main thread.

    The second stays true on a busy machine. ``slower`` is the processor's throttling by the DevTools protocol.
    """
    path = shutil.which("chromium")
    if path is None:
        return None
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu", "--disable-sync"])
        page = browser.new_page(viewport={"width": 390, "height": 844})
        tools = page.context.new_cdp_session(page)
        tools.send("Performance.enable", {"timeDomain": "threadTicks"})
        tools.send("Emulation.setCPUThrottlingRate", {"rate": slower})
        page.goto(file.as_uri(), wait_until="commit")
        # from outside: the page's policy forbids the driver's own polling
        while not page.evaluate("document.documentElement.dataset.drawn !== undefined"):
            page.wait_for_timeout(20)
        spent = {m["name"]: m["value"] for m in tools.send("Performance.getMetrics")["metrics"]}["TaskDuration"]
        shown = float(page.evaluate("Number(document.documentElement.dataset.drawn)")) / 1000
        browser.close()
    return shown, float(spent)


def main() -> None:
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        made = invented.telemetry(3600.0, 50.0, channels=22)
        big = replace(invented.flight(1, shared=invented.result("x", 3600.0)), telemetry=lambda: made)
        site = replace(invented.site(1), flights=(big,), over=OverFlights(invented.season((big,))))
        begun = time.perf_counter()
        build_site(site, folder)
        took = time.perf_counter() - begun
        file = folder / "flights/tern-001.html"
        size = file.stat().st_size
        print(
            f"flight page, 1 h, 50 Hz, {len(made.channels)} channels: {size:,} bytes, {size / MEGABYTE:.2f} of budget"
        )
        print(f"  built with its site in {took:.2f} s")
        for slower, budget in ((1, 0.8), (4, 2.5)):
            found = first_plot(file, slower)
            if found is None:
                print("  no Chromium: not opened")
                break
            print(
                f"  first plot at 1/{slower} of the speed: {found[0]:.2f} s, {found[1]:.2f} s of them work;"
                f" {found[1] / budget:.2f} of the budget of {budget} s"
            )
        shared = invented.result("shared")
        flights = tuple(invented.flight(n, shared=shared) for n in range(1000, 0, -1))
        site = replace(invented.site(1), flights=flights, over=OverFlights(invented.season(flights[:20])))
        begun = time.perf_counter()
        size = len(start.render(site, Shell("Fenholt", invented.LABEL)).encode())
        took = time.perf_counter() - begun
        print(f"start page, 1,000 flights: {size:,} bytes, {size / MEGABYTE:.2f} of the budget, made in {took:.2f} s")


if __name__ == "__main__":
    main()

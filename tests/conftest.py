"""What holds for every test: the language is English whatever the machine's is, and a slow machine is no failure."""

from __future__ import annotations

import os
import warnings
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

from spooldown.processes.cores import one_thread_each
from tests.balance import pytest_collection_modifyitems, pytest_xdist_auto_num_workers  # noqa: F401 - hooks
from tests.chromium import ARGUMENTS, chromium_path

one_thread_each()  # before anything loads numpy

import reports.words.catalogue  # noqa: E402, F401 - so that findings and refusals read as sentences

os.environ["SPOOLDOWN_LANGUAGE"] = "en"

# A test never fails for the time it takes: benchmarks measure, tests don't.
settings.register_profile("here", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("here")


@pytest.fixture(scope="session")
def chromium() -> Iterator[object]:
    """One headless Chromium a process: skipped loudly where there is none, an error under CI=true."""
    path = chromium_path()
    if path is None:
        if os.environ.get("CI") == "true":
            pytest.fail("no Chromium found; under CI=true the browser tests must run")
        warnings.warn("NO CHROMIUM FOUND: the browser tests are skipped", stacklevel=1)
        pytest.skip("no Chromium found: install the package chromium to run the browser tests")
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield browser
        browser.close()

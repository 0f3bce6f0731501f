"""What holds for every test: the language is English whatever the machine's is, and a slow machine is no failure."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

os.environ["SPOOLDOWN_LANGUAGE"] = "en"

# A test never fails for the time it takes: benchmarks measure, tests don't.
settings.register_profile("here", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("here")

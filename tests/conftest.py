"""What holds for every test: the language is English whatever the machine's is."""

from __future__ import annotations

import os

os.environ["SPOOLDOWN_LANGUAGE"] = "en"

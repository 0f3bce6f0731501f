"""``python -m spooldown``."""

import os
import sys

# Python puts the working folder first on the path: a `reports.py` there must not take the place of ours.
_HOME = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
if sys.path and os.path.realpath(sys.path[0] or ".") != os.path.realpath(_HOME):
    del sys.path[0]

from spooldown.cli import main  # noqa: E402

main()

"""``python -m spooldown``."""

from spooldown.cli import main

main()

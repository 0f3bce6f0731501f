"""``python -m spooldown``, and what ``spooldown`` starts."""

import os
import signal
import sys
from typing import NoReturn

if __name__ == "__main__":
    # Python puts the working folder first on the path: a `reports.py` there must not take the place of ours.
    _HOME = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
    if sys.path and os.path.realpath(sys.path[0] or ".") != os.path.realpath(_HOME):
        del sys.path[0]


def main() -> NoReturn:
    """Load the commands and run one. While they load, Ctrl-C only ends the process: nothing is begun yet."""
    handler = signal.getsignal(signal.SIGINT)
    if handler is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from spooldown.cli import main as run
    from spooldown.exit_codes import ExitCode

    try:
        signal.signal(signal.SIGINT, handler)
        run()
    except KeyboardInterrupt:  # before the command itself began, or after it ended
        sys.exit(ExitCode.INTERRUPTED)


if __name__ == "__main__":
    main()

import os
import signal
import subprocess
import sys

import pytest

HEAVY = ("pandas", "pyarrow", "scipy", "plotly", "statsmodels", "numpy", "pint", "jinja2", "rich")
CODE = f"""
import sys
import spooldown.cli
sys.argv = ['spooldown', '--help']
try:
    spooldown.cli.main()
except SystemExit as end:
    assert not end.code
print('LOADED', *[m for m in {HEAVY!r} if m in sys.modules])
"""


def test_help_loads_nothing_heavy():
    done = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True, check=True)
    assert "Exit codes: 0 done" in done.stdout
    assert done.stdout.splitlines()[-1].split() == ["LOADED"]


TABLES = """
import sys
import spooldown.site
import pyarrow as pa
table = pa.Table.from_pylist([{"time_s": 0.0, "a": 1.5}])
print(*[m for m in ("pandas", "scipy.stats", "scipy.signal", "scipy.optimize") if m in sys.modules])
from analyser.core.telemetry import Telemetry
print(Telemetry(table).to_frame()["a"].tolist(), "pandas" in sys.modules)
"""


def test_pages_load_pandas_only_where_somebody_asks_for_a_frame():
    done = subprocess.run([sys.executable, "-c", TABLES], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == ["", "[1.5] True"]


LIGHTLY = """
import sys
from spooldown.processes.lightly import load_lightly
load_lightly()
from scipy import special, stats
import numpy as np
print("numpy.f2py.f2py2e" in sys.modules, "unittest" in sys.modules)
np.testing.assert_allclose(special.ndtr(1.959963984540054), 0.975)
np.testing.assert_allclose(stats.norm.cdf(1.959963984540054), 0.975)
print(np.f2py.__name__, special.ndtr.__doc__.startswith('ndtr(x'))
"""


def test_libraries_loaded_lightly_are_whole_when_asked() -> None:
    """The normal distribution's 97.5 % point, from ISO 3534-1's tables as every handbook prints it: 1.96."""
    done = subprocess.run([sys.executable, "-c", LIGHTLY], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == ["False False", "numpy.f2py True"]


ENDING = """
import atexit, gc
from spooldown.processes.cores import collect_seldom
atexit.register(lambda: print(gc.get_freeze_count() > 1000))
collect_seldom()
"""


def test_nothing_is_looked_through_when_a_process_ends() -> None:
    done = subprocess.run([sys.executable, "-c", ENDING], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == ["True"]


@pytest.mark.skipif(os.name == "nt", reason="no such signal")
def test_ctrl_c_while_modules_load_shows_no_traceback(tmp_path):
    """Ctrl-C comes from inside the first module that is loaded, so at the same moment each time."""
    (tmp_path / "sitecustomize.py").write_text(
        "import os, signal, sys\n"
        "class Finder:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        "        if name == os.environ['AT']: os.kill(os.getpid(), signal.SIGINT)\n"
        "sys.meta_path.insert(0, Finder())\n"
    )
    paths = os.pathsep.join([str(tmp_path), *filter(None, sys.path)])
    for at in ("typer", "spooldown.commands.flights"):
        done = subprocess.run(
            [sys.executable, "-m", "spooldown", "flights", "--logbook", tmp_path],
            env={**os.environ, "PYTHONPATH": paths, "AT": at}, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert (done.returncode, done.stderr) == (-signal.SIGINT, ""), at

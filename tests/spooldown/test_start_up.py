import subprocess
import sys

HEAVY = ("pandas", "pyarrow", "scipy", "plotly", "statsmodels", "numpy", "pint", "jinja2", "cattrs", "rich")
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

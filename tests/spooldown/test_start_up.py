import os
import subprocess
import sys
from pathlib import Path

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


WRITTEN = """
import sys
from spooldown.processes.lightly import load_lightly
load_lightly()
from reports.words.compiled import compiled
import builtins, dataclasses
texts = []
made = builtins.compile
builtins.compile = lambda text, *more, **named: texts.append(text) or made(text, *more, **named)

@dataclasses.dataclass(frozen=True, slots=True, order=True)
class Point:
    x: float
    y: float = 2.0

p = Point(1.0)
print(p, p == Point(1.0), hash(p) == hash((1.0, 2.0)), p < Point(1.0, 3.0), [f.name for f in dataclasses.fields(p)])
try:
    p.x = 3.0
except dataclasses.FrozenInstanceError:
    print("frozen")
compiled().save()
print(sum("__create_fn__" in text for text in texts if isinstance(text, str)) > 0)
"""


def test_what_the_standard_library_writes_for_a_class_is_compiled_once(tmp_path: Path) -> None:
    def run() -> list[str]:
        env = {**os.environ, "XDG_CACHE_HOME": str(tmp_path)}
        done = subprocess.run([sys.executable, "-c", WRITTEN], env=env, capture_output=True, text=True, check=True)
        return done.stdout.splitlines()

    said = ["Point(x=1.0, y=2.0) True True True ['x', 'y']", "frozen"]
    assert run() == [*said, "True"]
    assert run() == [*said, "False"]

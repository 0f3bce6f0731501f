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

import subprocess
import sys

HEAVY = ("pandas", "pyarrow", "scipy", "plotly", "statsmodels", "numpy", "pint", "jinja2", "cattrs", "rich")


def test_help_loads_nothing_heavy():
    code = (
        "import sys\nfrom typer.testing import CliRunner\nimport spooldown.cli\n"
        "sys.argv = ['spooldown', '--help']\n"
        "try: spooldown.cli.main()\n"
        "except SystemExit as end: assert not end.code\n"
        f"print('LOADED', *[m for m in {HEAVY!r} if m in sys.modules])"
    ).replace("from typer.testing import CliRunner\n", "")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "Exit codes: 0 done" in done.stdout
    assert done.stdout.splitlines()[-1].split() == ["LOADED"]

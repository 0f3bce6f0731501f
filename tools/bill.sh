#!/bin/sh
# Software bill of materials (CycloneDX 1.6, JSON) and licence list of what a user installs: the locked runtime packages
# in an environment of their own, so that no development tool is listed.
set -eu
python=$1
out=$2
mkdir -p "$out"
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
sh tools/environment.sh "$python" "$scratch/venv" >/dev/null
"$scratch/venv/bin/python" -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
.venv/bin/cyclonedx-py environment --pyproject pyproject.toml --mc-type application --output-reproducible \
  --of JSON -o "$out/bill.json" "$scratch/venv/bin/python"
.venv/bin/pip-licenses --python "$scratch/venv/bin/python" --format=markdown --order=license --with-urls \
  --ignore-packages pip setuptools wheel --output-file "$out/licences.md"
.venv/bin/python tools/carried.py "$out/bill.json" "$out/licences.md"
echo "$out/bill.json and $out/licences.md"

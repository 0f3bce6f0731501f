#!/bin/sh
# An S3-compatible server for the tests, in an environment of its own: it wants an older date library than the project.
set -eu
venv=$1
place=$venv/object-storage
[ -x "$place/bin/moto_server" ] && exit 0
if ! { "$venv/bin/uv" venv --quiet --python "$venv/bin/python" "$place" &&
  "$venv/bin/uv" pip install --quiet --python "$place/bin/python" "moto[s3,server]==5.2.5"; }; then
  rm -rf "$place"
  echo "No S3-compatible server could be installed: its tests are skipped."
fi

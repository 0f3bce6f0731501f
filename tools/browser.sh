#!/bin/sh
# Make sure the browser tests have a Chromium: use what is there, else install it if we may.
# Where that is impossible, fail under CI=true and say loudly otherwise that browser tests will be skipped.
set -u
have() { command -v chromium >/dev/null 2>&1 || command -v chromium-browser >/dev/null 2>&1 || command -v google-chrome >/dev/null 2>&1; }
have && exit 0
as_root=""
[ "$(id -u)" = 0 ] || as_root="sudo -n"
if command -v apt-get >/dev/null 2>&1; then
  echo "Installing Chromium for the browser tests ..."
  ($as_root apt-get update -qq && DEBIAN_FRONTEND=noninteractive $as_root apt-get install -y -qq --no-install-recommends chromium fonts-dejavu-core) >/dev/null 2>&1
fi
have && exit 0
if [ "${CI:-}" = true ]; then
  echo "ERROR: no Chromium and it could not be installed; under CI=true the browser tests must run." >&2
  exit 1
fi
echo "##############################################################################" >&2
echo "# NO CHROMIUM: the browser tests will be SKIPPED. Install the package chromium. #" >&2
echo "##############################################################################" >&2
exit 0

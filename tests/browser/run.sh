#!/bin/sh
# Runs every browser test: VARVEL_BIN is the built program, VARVEL_PREVIEW the built example `preview` of the crate `page`.
# `look` (axe on every page, golden pictures; some minutes; UPDATE=1 takes new ones) runs when named, and `pictures` takes those of the README. Names after the script run only those.
# Needs: node, npm, chromium, espeak-ng, faketime, fonts-dejavu-core, fonts-urw-base35.
set -eu
cd "$(dirname "$0")"
: "${VARVEL_BIN:?Say where the built program is: VARVEL_BIN=target/release/varvel tests/browser/run.sh}"
case "$VARVEL_BIN" in /*) ;; *) VARVEL_BIN="$OLDPWD/$VARVEL_BIN" ;; esac
export VARVEL_BIN
for tool in node npm; do
  command -v "$tool" >/dev/null || { echo "$tool is missing: apt-get install nodejs npm" >&2; exit 1; }
done
[ -x "${CHROMIUM:-/usr/bin/chromium}" ] || { echo "chromium is missing: apt-get install chromium" >&2; exit 1; }
[ -d node_modules/playwright-core ] || npm ci --ignore-scripts --silent
failed=0
for test in ${*:-confirm pair phone}; do
  echo "== $test" >&2
  node "$test.mjs" || failed=1
done
exit "$failed"

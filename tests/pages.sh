#!/usr/bin/env bash
# The board's pages in a real browser: signing in, taking, fixing, holding, printing, a role that must not see a page, and
# axe-core on every page at two widths, light and dark. Called by ./test; also runs alone:
#
#   tests/pages.sh [NAME...]      all, or the tests with these names
#
# Needs Debian's chromium and chromium-driver and npm's axe-core, installed where they are missing. BROWLINE_SHOTS=FOLDER
# keeps a picture of every page. Last line: "pages: ..." .
set -euo pipefail
cd "$(dirname "$0")/.."
. tests/postgres.sh
export BROWLINE_CACHE=${BROWLINE_CACHE:-$PWD/.peers}
mkdir -p "$BROWLINE_CACHE"

need chromium chromium
need chromedriver chromium-driver
need npm nodejs npm

modules="$BROWLINE_CACHE/pages-$(cat tests/board/package.json tests/board/package-lock.json | cksum | cut -d ' ' -f 1)"
if [ ! -f "$modules/ready" ]; then
    rm -rf "$modules"
    mkdir -p "$modules"
    cp tests/board/package.json tests/board/package-lock.json "$modules/"
    npm ci --silent --no-audit --no-fund --prefix "$modules" >&2
    touch "$modules/ready"
fi
export BROWLINE_AXE="$modules/node_modules/axe-core/axe.min.js"
[ -s "$BROWLINE_AXE" ]

log=$(mktemp /tmp/browline-pages.XXXXXX)
trap 'rm -f "$log"' EXIT
# One after the other: a browser is several processes.
cargo test --locked --test board -- --ignored --test-threads 1 "$@" 2>&1 | tee "$log"
passed=$(awk '/^test result:/ { for (i = 1; i < NF; i++) if ($(i + 1) ~ /^passed/) p += $i } END { print p + 0 }' "$log")
[ "$passed" -gt 0 ] || { echo "no test ran: nothing is shown by that" >&2; exit 1; }
echo "pages: $passed passed in $(chromium --version 2>/dev/null | cut -d ' ' -f 1-2) with axe-core $(sed -n 's/.*"axe-core": "\(.*\)".*/\1/p' tests/board/package.json)"

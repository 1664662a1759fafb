#!/bin/sh
# Drives the chat client through a server made of the platform's published description (data/chat-openapi.json, by npm
# @stoplight/prism-cli), which checks every request. The description is made lean first (tools/lean.py): the whole one takes
# longer for a first call than an interaction may.
# usage: chat.sh           BROWLINE_SHARED: the folder with data/ and tools/ (default: ../shared beside the project)
#                          BROWLINE_CACHE: where the peer is installed once (default: .peers in the project)
# Exit 0: all good. 1: something differs. 3: nothing to test against here, with the reason.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
project=$(cd "$here/../.." && pwd)
shared=${BROWLINE_SHARED:-$project/../shared}
cache=${BROWLINE_CACHE:-$project/.peers}
prism_version=5.16.0

skip() { echo "chat.sh: skipped: $*" >&2; exit 3; }
[ -f "$shared/data/chat-openapi.json" ] || skip "no description in \`$shared/data\`; set BROWLINE_SHARED"
[ -f "$shared/tools/lean.py" ] || skip "no lean.py in \`$shared/tools\`; set BROWLINE_SHARED"
shared=$(cd "$shared" && pwd)
for tool in node npm python3 cargo curl; do
    command -v "$tool" >/dev/null || skip "\`$tool\` is not installed"
done

mkdir -p "$cache"
prism="$cache/prism-$prism_version"
[ -x "$prism/node_modules/.bin/prism" ] ||
    npm install --silent --no-audit --no-fund --prefix "$prism" "@stoplight/prism-cli@$prism_version" >&2

work=$(mktemp -d)
started=
stop() {
    [ -z "$started" ] || kill "$started" 2>/dev/null || true
    rm -rf "$work"
}
trap stop EXIT
trap 'exit 1' INT TERM

PYTHONDONTWRITEBYTECODE=1 python3 "$shared/tools/lean.py" "$shared/data/chat-openapi.json" "$work/lean.json"
port=$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
node "$prism/node_modules/@stoplight/prism-cli/dist/index.js" mock --port "$port" "$work/lean.json" >"$work/out" 2>&1 &
started=$!
tries=0
until curl -s -o /dev/null --max-time 5 --noproxy '*' "http://127.0.0.1:$port/api/v10/gateway"; do
    tries=$((tries + 1))
    [ "$tries" -lt 100 ] || { echo "chat.sh: the mock does not answer" >&2; cat "$work/out" >&2; exit 1; }
    sleep 0.1
done

cd "$project"
BROWLINE_CHAT_URL="http://127.0.0.1:$port" cargo test --quiet --test chat -- --ignored peers:: ||
    { grep -i violation "$work/out" >&2 || true; exit 1; }
# The mock has noted what broke the description: what the second test broke on purpose, and nothing else.

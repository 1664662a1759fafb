#!/bin/sh
# Drives the SMS client through the carrier's published description and its own library:
#   - the description (data/sms-carrier-openapi.json) served by npm @stoplight/prism-cli, which checks every request,
#     behind a front (tools/carrier_front.py) that keeps messages and posts status callbacks signed by PyPI twilio;
#   - hundreds of signatures of that library against ours.
# usage: carrier.sh        BROWLINE_SHARED: the folder with data/ and tools/ (default: ../shared beside the project)
#                          BROWLINE_CACHE: where the peers are installed once (default: .peers in the project)
# Exit 0: all good. 1: something differs. 3: nothing to test against here, with the reason.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
project=$(cd "$here/../.." && pwd)
shared=${BROWLINE_SHARED:-$project/../shared}
cache=${BROWLINE_CACHE:-$project/.peers}
prism_version=5.16.0
twilio_version=9.13.0

skip() { echo "carrier.sh: skipped: $*" >&2; exit 3; }
[ -f "$shared/data/sms-carrier-openapi.json" ] || skip "no description in \`$shared/data\`; set BROWLINE_SHARED"
[ -f "$shared/tools/carrier_front.py" ] || skip "no front in \`$shared/tools\`; set BROWLINE_SHARED"
shared=$(cd "$shared" && pwd)
for tool in node npm python3 cargo; do
    command -v "$tool" >/dev/null || skip "\`$tool\` is not installed"
done

mkdir -p "$cache"
prism="$cache/prism-$prism_version"
[ -x "$prism/node_modules/.bin/prism" ] ||
    npm install --silent --no-audit --no-fund --prefix "$prism" "@stoplight/prism-cli@$prism_version" >&2
venv="$cache/twilio-$twilio_version"
[ -f "$venv/ready" ] || {
    python3 -m venv "$venv"
    "$venv/bin/pip" install --quiet --disable-pip-version-check "twilio==$twilio_version"
    touch "$venv/ready"
}

work=$(mktemp -d)
started=
stop() {
    for pid in $started; do kill "$pid" 2>/dev/null || true; done
    rm -rf "$work"
}
trap stop EXIT
trap 'exit 1' INT TERM

free_port() { python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])'; }
answers() {
    for _ in $(seq 300); do
        curl -s -o /dev/null --max-time 2 --noproxy '*' "$1" && return 0
        sleep 0.1
    done
    echo "carrier.sh: nothing answers at $1" >&2
    cat "$work"/*.out >&2
    exit 1
}

mock_port=$(free_port)
node "$prism/node_modules/@stoplight/prism-cli/dist/index.js" mock --port "$mock_port" \
    "$shared/data/sms-carrier-openapi.json" >"$work/mock.out" 2>&1 &
started="$started $!"
answers "http://127.0.0.1:$mock_port/"

token=a-token-for-peers
front() { # port log extra-arguments...
    port=$1 log=$2
    shift 2
    PYTHONDONTWRITEBYTECODE=1 PYTHONPATH="$shared/tools" "$venv/bin/python" "$shared/tools/carrier_front.py" \
        --port "$port" --mock "http://127.0.0.1:$mock_port" --log "$log" "$@" >"$work/front-$port.out" 2>&1 &
    started="$started $!"
}
plain_port=$(free_port)
front "$plain_port" "$work/plain.jsonl" --token "$token" --callbacks
troubled_port=$(free_port)
front "$troubled_port" "$work/troubled.jsonl" --first 429:2,500:1
page=2010-04-01/Accounts/AC00000000000000000000000000000000/Messages.json
answers "http://127.0.0.1:$plain_port/$page"
answers "http://127.0.0.1:$troubled_port/$page"
# Those two calls were ours, without credentials: they are not the client's.
: >"$work/plain.jsonl"
: >"$work/troubled.jsonl"

"$venv/bin/python" "$here/carrier/signed_calls.py" 600 >"$work/signed.jsonl"

cd "$project"
BROWLINE_CARRIER_URL="http://127.0.0.1:$plain_port" \
    BROWLINE_CARRIER_TROUBLED="http://127.0.0.1:$troubled_port" \
    BROWLINE_CARRIER_TOKEN="$token" \
    BROWLINE_SIGNED_CALLS="$work/signed.jsonl" \
    cargo test --quiet --test channel -- --ignored peers::
"$venv/bin/python" "$here/carrier/violations.py" "$work/plain.jsonl" "$work/troubled.jsonl"

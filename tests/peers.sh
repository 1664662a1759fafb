#!/usr/bin/env bash
# The program against peers that nobody here wrote, at pinned versions. Called by ./test; also runs alone:
#
#   tests/peers.sh [NAME...]      all, or those named: phones calendars carrier ...
#
# Each check says in its first lines what it compares with what. Libraries are installed into a folder of their own,
# BROWLINE_CACHE (default: .peers in the project, not under version control), which may be deleted at any time. A check that
# cannot run here says why and is counted as such; one that differs fails the whole. Last line: "peers: ..." .
set -euo pipefail
cd "$(dirname "$0")/.."
. tests/postgres.sh
export BROWLINE_CACHE=${BROWLINE_CACHE:-$PWD/.peers}
mkdir -p "$BROWLINE_CACHE"

# The virtual environment for tests/peers/requirements.txt, made anew when that file changes.
python_with_requirements() {
    local requirements=tests/peers/requirements.txt venv
    need python3 python3 python3-venv || return
    venv="$BROWLINE_CACHE/python-$(cksum <"$requirements" | cut -d ' ' -f 1)"
    if [ ! -f "$venv/ready" ]; then
        rm -rf "$venv"
        # Debian keeps the module's other half in a package of its own.
        python3 -m venv "$venv" >/dev/null 2>&1 ||
            { install_packages python3-venv && python3 -m venv --clear "$venv"; } || return
        "$venv/bin/pip" install --quiet --disable-pip-version-check -r "$requirements" >&2 || return
        touch "$venv/ready"
    fi
    PYTHON="$venv/bin/python"
}

# The folder of npm packages for tests/peers/package.json and its lock, made anew when the lock changes.
node_with_packages() {
    local modules
    need node nodejs npm || return
    need npm npm || return
    modules="$BROWLINE_CACHE/node-$(cat tests/peers/package.json tests/peers/package-lock.json | cksum | cut -d ' ' -f 1)"
    if [ ! -f "$modules/ready" ]; then
        rm -rf "$modules"
        mkdir -p "$modules"
        cp tests/peers/package.json tests/peers/package-lock.json "$modules/"
        npm ci --silent --no-audit --no-fund --prefix "$modules" >&2 || return
        touch "$modules/ready"
    fi
    export NODE_PATH="$modules/node_modules"
}

# One check, run as its file's ending says. Every step says what happens when it fails: `set -e` does not hold in here.
run_check() {
    local file=$1
    case "$file" in
        *.sh)
            need node nodejs npm && need npm npm && need python3 python3 python3-venv && need curl curl || return
            "$file"
            ;;
        *.py)
            python_with_requirements || return
            # One of them reads texts that come as a package of npm's.
            ! grep -q NODE_PATH "$file" || node_with_packages || return
            PYTHONDONTWRITEBYTECODE=1 "$PYTHON" "$file"
            ;;
        *.cjs | *.mjs | *.js)
            node_with_packages || return
            node "$file"
            ;;
    esac
}

# Every script directly in tests/peers is a check, but for what the others import.
checks=()
for file in tests/peers/*.py tests/peers/*.sh tests/peers/*.cjs tests/peers/*.mjs tests/peers/*.js; do
    name=$(basename "$file")
    [ -f "$file" ] && [ "$name" != ask.py ] || continue
    if [ "$#" -eq 0 ] || [[ " $* " == *" ${name%.*} "* ]]; then
        checks+=("$file")
    fi
done
[ "${#checks[@]}" -gt 0 ] || { echo "no such check: $*" >&2; exit 1; }

agree=() differ=() skipped=()
for file in "${checks[@]}"; do
    name=$(basename "${file%.*}")
    echo "--- $name"
    status=0
    (run_check "$file") || status=$?
    case "$status" in
        0) agree+=("$name") ;;
        3) skipped+=("$name") ;;
        *) differ+=("$name") ;;
    esac
done

line="${#agree[@]} agree (${agree[*]:-none})"
[ "${#skipped[@]}" -eq 0 ] || line="$line; COULD NOT RUN HERE: ${skipped[*]}"
[ "${#differ[@]}" -eq 0 ] || line="$line; DIFFER OR FAILED: ${differ[*]}"
echo "peers: $line"
[ "${#differ[@]}" -eq 0 ]

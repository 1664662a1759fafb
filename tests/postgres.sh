# shellcheck shell=bash
# What the tests need from the machine, and a PostgreSQL of their own: a throw-away cluster on a free loopback port, run
# by an ordinary user. Sourced by ./test and by the benchmarks.
#
#   need PROGRAM [PACKAGE...]     installs the packages when the program is missing; without packages only looks
#   start_private_postgres        sets BROWLINE_TEST_POSTGRES, unless it is set: then that server is used
#   stop_private_postgres         stops the cluster and removes it

install_packages() {
    local sudo=()
    if ! command -v apt-get >/dev/null; then
        echo "missing on this machine, and there is no apt-get to install it with: $*" >&2
        return 1
    fi
    if [ "$(id -u)" != 0 ]; then
        command -v sudo >/dev/null || { echo "missing, and no sudo to install it with: $*" >&2; return 1; }
        sudo=(sudo)
    fi
    echo "installing $*" >&2
    "${sudo[@]}" apt-get update -qq >&2
    "${sudo[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" >&2
}

need() {
    local program=$1
    shift
    command -v "$program" >/dev/null && return
    [ "$#" -gt 0 ] || return 1
    install_packages "$@"
}

# The folder with the newest server's programs; nothing when there is none.
find_postgres() {
    local initdb
    initdb=$(command -v initdb || find /usr/lib/postgresql -path '*/bin/initdb' 2>/dev/null | sort -V | tail -n 1)
    if [ -n "$initdb" ]; then
        dirname "$(readlink -f "$initdb")"
    fi
}

# The server refuses to run as root: then its programs run as the user postgres.
as_postgres_user() {
    if [ "$(id -u)" = 0 ]; then
        runuser -u postgres -- "$@"
    else
        "$@"
    fi
}

start_private_postgres() {
    if [ -n "${BROWLINE_TEST_POSTGRES:-}" ]; then
        echo "using the PostgreSQL server in BROWLINE_TEST_POSTGRES" >&2
        return
    fi
    local bin port settings
    bin=$(find_postgres)
    if [ -z "$bin" ]; then
        install_packages postgresql
        bin=$(find_postgres)
    fi
    PRIVATE_POSTGRES=$(mktemp -d /tmp/browline-postgres.XXXXXX)
    PRIVATE_POSTGRES_BIN=$bin
    if [ "$(id -u)" = 0 ]; then
        id postgres >/dev/null 2>&1 || useradd --system --no-create-home postgres
        chown postgres "$PRIVATE_POSTGRES"
    fi
    # From a folder that its user may enter.
    (
        cd "$PRIVATE_POSTGRES" || exit 1
        as_postgres_user "$bin/initdb" -D "$PRIVATE_POSTGRES/data" -U browline --auth=trust --encoding=UTF8 --locale=C \
            >/dev/null
    )
    for _ in 1 2 3 4 5; do
        port=$((20000 + RANDOM % 12000))
        settings="-p $port -k $PRIVATE_POSTGRES -c listen_addresses=127.0.0.1 -c max_connections=400"
        settings="$settings -c fsync=${BROWLINE_TEST_FSYNC:-off}"
        if [ "${BROWLINE_TEST_FSYNC:-off}" = off ]; then
            # The tests need little log; benchmarks with fsync are measured as the server comes.
            settings="$settings -c max_wal_size=128MB -c wal_level=minimal -c max_wal_senders=0"
        fi
        if (
            cd "$PRIVATE_POSTGRES" &&
                as_postgres_user "$bin/pg_ctl" -D "$PRIVATE_POSTGRES/data" -l "$PRIVATE_POSTGRES/log" -w -t 60 \
                    -o "$settings" start >/dev/null
        ); then
            export BROWLINE_TEST_POSTGRES="postgres://browline@127.0.0.1:$port"
            return
        fi
        # Perhaps the port was somebody else's: another one is tried.
    done
    cat "$PRIVATE_POSTGRES/log" >&2
    echo "PostgreSQL does not start; its log is above" >&2
    return 1
}

stop_private_postgres() {
    if [ -n "${PRIVATE_POSTGRES:-}" ]; then
        (
            cd "$PRIVATE_POSTGRES" &&
                as_postgres_user "$PRIVATE_POSTGRES_BIN/pg_ctl" -D "$PRIVATE_POSTGRES/data" -m immediate stop
        ) >/dev/null 2>&1 || true
        rm -rf "$PRIVATE_POSTGRES"
        PRIVATE_POSTGRES=
    fi
}

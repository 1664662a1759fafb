# A PostgreSQL of our own for the tests: a throw-away cluster on a unix socket and a loopback port, as an ordinary user.
# Sourced by ./test and by the benchmarks. Installs the server with apt-get when the machine has none.

find_postgres() {
    local initdb
    initdb=$(command -v initdb || ls -d /usr/lib/postgresql/*/bin/initdb 2>/dev/null | sort -V | tail -n 1 || true)
    [ -n "$initdb" ] && dirname "$(readlink -f "$initdb")"
}

start_private_postgres() {
    if [ -n "${BROWLINE_TEST_POSTGRES:-}" ]; then
        return
    fi
    local bin
    bin=$(find_postgres)
    if [ -z "$bin" ]; then
        echo "installing PostgreSQL for the tests" >&2
        local sudo=""
        [ "$(id -u)" = 0 ] || sudo="sudo"
        $sudo apt-get update -qq >&2
        DEBIAN_FRONTEND=noninteractive $sudo apt-get install -y -qq postgresql >&2
        bin=$(find_postgres)
    fi
    PRIVATE_POSTGRES=$(mktemp -d /tmp/browline-postgres.XXXXXX)
    PRIVATE_POSTGRES_BIN=$bin
    AS_USER=""
    if [ "$(id -u)" = 0 ]; then
        # The server refuses to run as root.
        id postgres >/dev/null 2>&1 || useradd --system --no-create-home postgres
        chown postgres "$PRIVATE_POSTGRES"
        AS_USER="runuser -u postgres --"
    fi
    local port
    port=$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
    (
        cd "$PRIVATE_POSTGRES"
        $AS_USER "$bin/initdb" -D "$PRIVATE_POSTGRES/data" -U browline --auth=trust --encoding=UTF8 --locale=C >/dev/null
        $AS_USER "$bin/pg_ctl" -D "$PRIVATE_POSTGRES/data" -l "$PRIVATE_POSTGRES/log" -w \
            -o "-p $port -k $PRIVATE_POSTGRES -c listen_addresses=127.0.0.1 -c max_connections=400 -c fsync=${BROWLINE_TEST_FSYNC:-off}" start >/dev/null
    )
    export BROWLINE_TEST_POSTGRES="postgres://browline@127.0.0.1:$port"
}

stop_private_postgres() {
    if [ -n "${PRIVATE_POSTGRES:-}" ]; then
        (cd / && $AS_USER "$PRIVATE_POSTGRES_BIN/pg_ctl" -D "$PRIVATE_POSTGRES/data" -m immediate stop >/dev/null || true)
        rm -rf "$PRIVATE_POSTGRES"
    fi
}

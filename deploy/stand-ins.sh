#!/bin/sh
# Where no registry of images can be reached: images made of Debian's packages, under the names that
# the Dockerfile and the Compose file ask for. Sizes and patch levels differ from the real ones, so
# this is for trying things out; nothing built on them is to be given to anyone.
#   sudo deploy/stand-ins.sh docker|podman [python] [postgres] [caddy]
set -eu
engine=$1
shift
[ $# -gt 0 ] || set -- python postgres caddy
command -v mmdebstrap >/dev/null || { echo "needs Debian's package mmdebstrap" >&2; exit 1; }
suite=trixie
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
chmod 755 "$work"

# The sources that this machine uses, for the suite whose versions the real images have.
here=$(. /etc/os-release && echo "$VERSION_CODENAME")
list=/etc/apt/sources.list.d/debian.sources
[ -f "$list" ] || list=/etc/apt/sources.list
sources=$work/stand-ins.${list##*.}
sed "s/$here/$suite/g" "$list" > "$sources"

# $1 packages, $2 what is done in the new root before it is packed as $work/root.tar
root() {
    printf 'set -eu\ncd "$1"\n%s\nrm -rf var/lib/apt/lists/* usr/share/doc/* usr/share/man/* usr/share/locale/*\n' "$2" \
        > "$work/hook"
    mmdebstrap --quiet --variant=minbase --aptopt='APT::Install-Recommends "false"' --dpkgopt=force-unsafe-io \
        --include="$1" --customize-hook="sh $work/hook \"\$1\"" "$suite" "$work/root.tar" "$sources"
}

# $1 name, then what `import` changes of that root
made() {
    name=docker.io/library/$1
    shift
    for change in "$@"; do
        set -- "$@" --change "$change"
        shift
    done
    "$engine" import "$@" "$work/root.tar" "$name" >/dev/null
    echo "$name stands in, made of Debian's packages"
}

python() {
    # A proxy of this machine may sign what pip fetches, so the machine's certificates go in.
    root ca-certificates,netbase,python3,python3-venv,tzdata "
        for name in python python3 python3.13; do ln -s /usr/bin/python3.13 usr/local/bin/\$name; done
        rm -f usr/lib/python3*/EXTERNALLY-MANAGED
        wheels=/usr/share/python-wheels
        chroot . python3 \$wheels/\$(ls .\$wheels | grep ^pip-)/pip install --quiet --no-index \
            --root-user-action ignore --find-links \$wheels pip
        find usr -name __pycache__ -type d -prune -exec rm -rf {} +
        cp /etc/ssl/certs/ca-certificates.crt etc/ssl/certs/ca-certificates.crt
        printf '[global]\ncert = /etc/ssl/certs/ca-certificates.crt\n' > etc/pip.conf"
    made python:3.13-slim 'ENV LANG=C.UTF-8' 'CMD ["python3"]' \
        'ENV PATH=/usr/local/bin:/usr/local/sbin:/usr/sbin:/usr/bin:/sbin:/bin'
}

postgres() {
    cat > "$work/entrypoint" <<'ENTRYPOINT'
#!/bin/sh
# What the Compose file uses of the real image's entry point.
set -eu
if [ "$(id -u)" = 0 ]; then
    install -d -o postgres -m 700 "$PGDATA"
    install -d -o postgres /var/run/postgresql
    exec gosu postgres "$0" "$@"
fi
if [ ! -s "$PGDATA/PG_VERSION" ]; then
    initdb --username "$POSTGRES_USER" --pwfile "$POSTGRES_PASSWORD_FILE" \
        --auth-host scram-sha-256 --auth-local trust ${POSTGRES_INITDB_ARGS:-} "$PGDATA" >/dev/null
    echo 'host all all all scram-sha-256' >> "$PGDATA/pg_hba.conf"
    pg_ctl -D "$PGDATA" -o "-c listen_addresses=''" -w start >/dev/null
    createdb --username "$POSTGRES_USER" "$POSTGRES_DB"
    for script in /docker-entrypoint-initdb.d/*.sh; do [ ! -f "$script" ] || sh "$script"; done
    pg_ctl -D "$PGDATA" -m fast -w stop >/dev/null
fi
exec "$@"
ENTRYPOINT
    chmod 755 "$work/entrypoint"
    root postgresql-17,gosu,ca-certificates "
        install -m 755 $work/entrypoint usr/local/bin/docker-entrypoint.sh
        rm -rf usr/lib/*/libLLVM* usr/lib/llvm* usr/lib/postgresql/*/lib/*jit* \
            usr/lib/postgresql/*/lib/bitcode var/lib/postgresql/* etc/postgresql
        mkdir docker-entrypoint-initdb.d"
    made postgres:17 'ENV PGDATA=/var/lib/postgresql/data' 'STOPSIGNAL SIGINT' \
            'VOLUME /var/lib/postgresql/data' 'ENTRYPOINT ["docker-entrypoint.sh"]' \
            'CMD ["postgres", "-c", "listen_addresses=*", "-c", "jit=off"]' \
            'ENV PATH=/usr/lib/postgresql/17/bin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin'
}

caddy() {
    root caddy,ca-certificates "mkdir -p data config srv"
    made caddy:2 'ENV XDG_DATA_HOME=/data' 'ENV XDG_CONFIG_HOME=/config' \
            'CMD ["caddy", "run", "--config", "/etc/caddy/Caddyfile", "--adapter", "caddyfile"]'
}

for each in "$@"; do "$each"; done

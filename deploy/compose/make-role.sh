#!/bin/sh
# Once, when the database is made: the role of the service, which owns no table. `wrung migrate
# --role` lets it do what the service does.
set -eu
psql --set ON_ERROR_STOP=1 --username "$POSTGRES_USER" --dbname "$POSTGRES_DB" \
    --set password="$(cat /run/secrets/service-password)" <<'SQL'
create role wrung login password :'password';
SQL

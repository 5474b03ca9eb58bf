#!/bin/sh
# Make the secrets of the Compose file, in a folder of theirs; those that are there stay.
#   secrets.sh [FOLDER]
set -eu
folder=${1:-$(dirname "$0")/../secrets}
mkdir -p "$folder"
# The folder keeps others out. In a container each file has its own rights, and is read by another
# user than the one who made it.
chmod 700 "$folder"
umask 022
for role in owner service; do
    password=$folder/$role-password
    if [ ! -s "$password" ]; then od -An -N 24 -t x1 /dev/urandom | tr -d ' \n' > "$password"; fi
done
printf 'postgresql://owner:%s@db/crib' "$(cat "$folder/owner-password")" > "$folder/owner-url"
printf 'postgresql://wrung:%s@db/crib' "$(cat "$folder/service-password")" > "$folder/service-url"

#!/bin/sh
# Post a traveller in turn and keep its record, one row a block: traveller.sh REQUEST RECORD.csv [ADDRESS]
# The request says `in_turn` and asks for a record.
set -eu
exec curl --silent --show-error --fail-with-body --max-time 60 \
    --header 'Content-Type: application/json' --header 'Accept: text/csv' \
    --data-binary "@$1" --output "$2" \
    "${3:-http://127.0.0.1:8000}/v1/stacks"

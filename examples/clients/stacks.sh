#!/bin/sh
# Post a request and print the service's answer as it came: stacks.sh REQUEST.json [ADDRESS]
# A refused request prints the problem and ends with curl's exit code 22 (curl 7.76 or newer).
set -eu
exec curl --silent --show-error --fail-with-body --max-time 60 \
    --header 'Content-Type: application/json' \
    --data-binary "@$1" \
    "${2:-http://127.0.0.1:8000}/v1/stacks"

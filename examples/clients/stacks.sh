#!/bin/sh
# Post a request, again if the service is busy, and print its answer: stacks.sh REQUEST [ADDRESS]
# A refused request prints the problem and ends with curl's exit code 22 (curl 7.76 or newer).
# curl waits as long as Retry-After says. Posting again is safe: nothing is stored.
set -eu
exec curl --silent --show-error --fail-with-body --max-time 60 \
    --retry 4 --retry-max-time 120 \
    --header 'Content-Type: application/json' \
    --data-binary "@$1" \
    "${2:-http://127.0.0.1:8000}/v1/stacks"

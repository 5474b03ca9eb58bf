#!/bin/sh
# Ask for one stack and print the service's answer as it came: one_stack.sh [ADDRESS]
set -eu
exec curl --silent --show-error --fail-with-body --max-time 60 \
    --header 'Content-Type: application/json' \
    --data-binary @- "${1:-http://127.0.0.1:8000}/v1/stacks" <<'REQUEST'
{"unit": "in", "sets": [{"id": "crib", "composition": "inch-81", "grade": "AS-1"}],
 "targets": [{"ref": "op10", "kind": "length", "length": "0.3506"}]}
REQUEST

#!/bin/sh
# At the counter of a tool crib; prints the service's answers.
#   crib.sh plan REQUEST KEY                            promise blocks to a job
#   crib.sh issue SITE BLOCK                            a block goes out
#   crib.sh return SITE BLOCK [CONDITION] [REASON]      and comes back, such as: damaged "burr at the edge"
#   crib.sh replan PLAN [REASON]                        other blocks for those that failed
# CRIB_ADDRESS is http://127.0.0.1:8000 if not set; CRIB_KEY is the API key, if the service wants one.
# Ends with curl's exit code 22 if the service refuses: 409 says who has the blocks (curl 7.76 or newer).
set -eu

# The API key goes in by a pipe: arguments can be seen by everybody on the machine.
post() { # PATH JSON-OR-@FILE [HEADER]
    if [ -n "${CRIB_KEY:-}" ]; then printf 'header = "Authorization: Bearer %s"\n' "$CRIB_KEY"; fi |
        curl --config - --silent --show-error --fail-with-body --max-time 60 \
            --retry 4 --retry-max-time 120 \
            --header 'Content-Type: application/json' --header "${3:-Accept: application/json}" \
            --data-binary "$2" "${CRIB_ADDRESS:-http://127.0.0.1:8000}$1"
}

# If the connection breaks, nobody knows whether the plan was made. With the same key the request
# may be sent again: there will be one plan, and this is its answer.
plan() { # REQUEST KEY
    tries=5
    while :; do
        status=0
        post /v1/plans "@$1" "Idempotency-Key: $2" || status=$?
        tries=$((tries - 1))
        case $status in 0 | 22) return "$status" ;; esac
        [ "$tries" -gt 0 ] || return "$status"
        sleep 1
    done
}

text() { printf '"%s"' "$(printf '%s' "$1" | sed 's/["\\]/\\&/g')"; }

case "${1:-}" in
plan) plan "$2" "$3" ;;
issue) post "/v1/sites/$2/issues" "{\"blocks\": [$(text "$3")]}" ;;
return)
    why="${5:+, \"reason\": $(text "${5:-}")}"
    post "/v1/sites/$2/returns" \
        "{\"blocks\": [{\"id\": $(text "$3"), \"condition\": $(text "${4:-fit}")$why}]}"
    ;;
replan) post "/v1/plans/$2/replan" "{${3:+\"reason\": $(text "${3:-}")}}" ;;
*) sed -n '2,6p' "$0" >&2 && exit 2 ;;
esac

#!/usr/bin/env bash
# Find a free canner, book it as it was offered, and be refused when the same time is asked for again.
set -euo pipefail

call() { # method, path, body: the answer's body, whatever its status
    curl --silent --show-error --request "$1" "$KITCHEN$2" --header "Authorization: Bearer $TOKEN" \
        --header 'Content-Type: application/json' --header "Idempotency-Key: $(cat /proc/sys/kernel/random/uuid)" \
        --data "$3"
}

found=$(call POST /v1/slot-searches \
    '{"equipment_kind": "canner", "canner_kind": "boiling-water", "minutes": 90, "limit": 1}')
booking=$(jq '.options[0].claims[0] | {equipment_id, starts_at, ends_at, purpose: "Plum jam"}' <<<"$found")

made=$(call POST /v1/bookings "$booking")
jq '{status, starts_at: .claims[0].starts_at, ends_at: .claims[0].ends_at}' <<<"$made"

refused=$(call POST /v1/bookings "$booking")
jq '{status, code, next_free_at}' <<<"$refused"

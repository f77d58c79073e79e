#!/usr/bin/env bash
# Run a batch from its booking to jars in the pantry: yesterday's, which a coordinator enters afterwards. (GNU date)
set -euo pipefail

call() { # token, method, path, body
    curl --fail-with-body --silent --show-error --request "$2" "$KITCHEN$3" --header "Authorization: Bearer $1" \
        --header 'Content-Type: application/json' --header "Idempotency-Key: $(cat /proc/sys/kernel/random/uuid)" \
        ${4:+--data "$4"}
}
at() { date --utc --date "@$((started + $1 * 60))" +%Y-%m-%dT%H:%M:%SZ; } # minutes after the batch began

me=$(call "$TOKEN" GET /v1/members/me | jq -r .id)
recipe=$(call "$TOKEN" POST /v1/recipes '{
    "title": "Plum jam",
    "family": "jam",
    "ingredients": ["4 1/2 cups crushed plums", "7 1/2 cups sugar", "1 pouch (3 oz) liquid pectin"],
    "steps": ["fruit", "sugar", "boil-hard-1-min", "remove-heat", "pectin", "skim", "fill", "process"],
    "pack": "hot",
    "headspace_in": 0.25,
    "jars": [{"size": "half-pint", "count": 8}],
    "process": {"method": "boiling-water", "minutes": 10}
}' | jq -r .id)
canners=$(call "$TOKEN" GET /v1/equipment |
    jq -r '.items[] | select(.canner_kind == "boiling-water" and .in_service) | .id')

# The first canner and hour, from a day ago backwards, at which the kitchen was open and nobody had it.
now=$(date --utc +%s)
for hours in $(seq 24 90); do
    started=$(((now - hours * 3600) / 300 * 300))
    for canner in $canners; do
        booking=$(call "$COORDINATOR" POST /v1/bookings "{
            \"member_id\": \"$me\", \"equipment_id\": \"$canner\", \"recipe_id\": \"$recipe\", \"revision\": 1,
            \"jars\": [{\"size\": \"half-pint\", \"count\": 8}], \"purpose\": \"Plum jam\",
            \"starts_at\": \"$(at 0)\", \"ends_at\": \"$(at 120)\"
        }") && break 2
    done
done 2>/dev/null

batch=$(call "$TOKEN" POST /v1/batches "{\"booking_id\": $(jq .id <<<"$booking"), \"at\": \"$(at 0)\"}" | jq -r .id)
call "$TOKEN" POST "/v1/batches/$batch/loads" \
    "{\"jar_size\": \"half-pint\", \"count\": 8, \"canner_id\": \"$canner\", \"in_at\": \"$(at 45)\"}" |
    jq '{load, method, minutes}'
call "$TOKEN" POST "/v1/batches/$batch/loads/1/out" "{\"at\": \"$(at 75)\"}" | jq '{out_at, out_too_early}'
# Half a day later, when the jars have rested, the seals are checked.
lot=$(call "$TOKEN" POST "/v1/batches/$batch/loads/1/seal-check" \
    "{\"sealed\": 7, \"unsealed\": 1, \"broken\": 0, \"at\": \"$(at 840)\"}" | jq -r '.lots[0].lot_code')
call "$TOKEN" GET "/v1/members/me/pantry?lot=$lot" |
    jq '.items[] | {title, count, jar_size, state, best_by}'

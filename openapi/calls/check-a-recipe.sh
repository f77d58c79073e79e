#!/usr/bin/env bash
# Check a recipe before the heat goes on. It takes no token; without one the altitude is said.
set -euo pipefail

curl --fail-with-body --silent --show-error "$KITCHEN/v1/recipe-checks" \
    --header 'Content-Type: application/json' --data '{
    "title": "Plum jam",
    "family": "jam",
    "ingredients": ["4 1/2 cups crushed plums", "7 1/2 cups sugar", "1 pouch (3 oz) liquid pectin"],
    "jars": [{"size": "half-pint", "count": 8}],
    "altitude_ft": 4200
}' | jq '{verdict, findings, minutes: [.process.options[] | {method, minutes}]}'

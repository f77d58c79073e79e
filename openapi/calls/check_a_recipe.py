"""Check a recipe before the heat goes on. It takes no token; without one the altitude is said."""

import os

import httpx

recipe = {
    "title": "Plum jam",
    "family": "jam",
    "ingredients": ["4 1/2 cups crushed plums", "7 1/2 cups sugar", "1 pouch (3 oz) liquid pectin"],
    "jars": [{"size": "half-pint", "count": 8}],
    "altitude_ft": 4200,
}

answer = httpx.post(f"{os.environ['KITCHEN']}/v1/recipe-checks", json=recipe, timeout=10)
answer.raise_for_status()
check = answer.json()
print("verdict:", check["verdict"])
for finding in check["findings"]:
    print("change:", finding["message"], finding["fix"])
for option in check["process"]["options"]:
    print("process:", option["method"], option["minutes"], "minutes")

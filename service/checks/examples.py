"""A recipe check as the contract shows it; a test holds the answer to what the service really says."""

from typing import Any

RECIPE: dict[str, Any] = {
    "title": "Plum jam, twice as much",
    "family": "jam",
    "ingredients": [
        "9 cups crushed plums",
        {"name": "sugar", "amount": 15, "unit": "cup"},
        "2 pouches (3 oz each) liquid pectin",
    ],
    "steps": ["fruit", "sugar", "boil-hard-1-min", "remove-heat", "pectin", "skim", "fill", "process"],
    "pack": "hot",
    "headspace_in": 0.25,
    "jars": [{"size": "half-pint", "count": 16}],
    "process": {"method": "boiling-water", "minutes": 10},
    "altitude_ft": 4200,
}

# The published options are left out here for length: GET /v1/reference/processes shows one.
ANSWER: dict[str, Any] = {
    "verdict": "revise",
    "family": "jam",
    "product": "jam-or-jelly-with-pectin",
    "inferred": ["product"],
    "findings": [
        {
            "rule": "no-double-batch",
            "area": "batch-size",
            "severity": "set-failure",
            "message": "This is 2 times the tested batch in one pot; it may not set, or scorch before it does.",
            "fix": "Cook 2 pots, one after the other, each as printed: 4½ cups crushed plums; 7½ cups "
            "granulated sugar; 1 pouch (3 oz) liquid pectin.",
            "measured": {"low": 2.0, "high": 2.0, "unit": "batches"},
            "limit": {"low": 1.0, "high": 1.0, "unit": "batches"},
            "where": None,
            "source": {
                "title": "Tips for jelly and jam (read in a copy of a Michigan State University "
                "Extension page (1997) drawn from USDA Agriculture Information Bulletin "
                "539)",
                "publisher": "Michigan State University Extension",
                "url": "https://www.canr.msu.edu/",
                "evidence": "read",
            },
        }
    ],
    "notes": [],
    "formula": {
        "ingredients": [
            {
                "name": "plum",
                "as_written": "9 cups crushed plums",
                "grams": {"low": 2025.0, "high": 2250.0},
                "role": "fruit",
                "recognised": True,
            },
            {
                "name": "sugar, granulated",
                "as_written": "15 cups sugar",
                "grams": {"low": 3000.0, "high": 3000.0},
                "role": "sweetener",
                "recognised": True,
            },
            {
                "name": "pectin, liquid",
                "as_written": "2 pouches (3 oz each) liquid pectin",
                "grams": {"low": 170.097139, "high": 170.097139},
                "role": "pectin",
                "recognised": True,
            },
        ],
        "total_grams": {"low": 5195.097139, "high": 5420.097139},
        "soluble_solids": {"low": 0.600547, "high": 0.634223},
        "fruit_to_sugar": {"low": 0.675, "high": 0.75},
        "prepared_fruit_cups": {"low": 9.0, "high": 9.0},
    },
    "process": {"status": "published", "options": []},
    "yield": {
        "millilitres": {"low": 3785.411784, "high": 3785.411784},
        "jars": [{"size": "half-pint", "count": {"low": 16.0, "high": 16.0}}],
    },
    "tested_recipe": {"id": "plum-jam-liquid", "title": "Plum jam with liquid pectin", "differences": []},
    "rulebook": "2026.1",
    "notice": "Advice from published figures, no certificate: local codes, licensed practice and a process "
    "authority come first. When in doubt, refrigerate or freeze; food that may be spoiled is never "
    "tasted.",
}

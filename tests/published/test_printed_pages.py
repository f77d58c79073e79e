"""The loaded figures against the printed tables, typed again by hand.

Complete Guide to Home Canning, Agriculture Information Bulletin 539, revised 2015, USDA National Institute of Food and
Agriculture: guide and page stand beside each line. Page numbers come from running footers and may be off by one.
"""

import pytest

from service.core.rules import processes
from service.published.loading import facts

# page, product, pack, jar size, minutes at: 0–1,000 ft, 1,001–3,000, 3,001–6,000, above 6,000
FOUR_BANDS = [
    ("2-7", "apples-sliced", "hot", "pint", 20, 25, 30, 35),
    ("2-7", "apples-sliced", "hot", "quart", 20, 25, 30, 35),
    ("2-8", "applesauce", "hot", "pint", 15, 20, 20, 25),
    ("2-8", "applesauce", "hot", "quart", 20, 25, 30, 35),
    ("2-9", "apricots", "hot", "pint", 20, 25, 30, 35),
    ("2-9", "apricots", "raw", "quart", 30, 35, 40, 45),
    ("2-10", "berries", "hot", "quart", 15, 20, 20, 25),
    ("2-10", "berries", "raw", "quart", 20, 25, 30, 35),
    ("2-12", "cherries", "raw", "pint", 25, 30, 35, 40),
    ("2-14", "figs", "hot", "pint", 45, 50, 55, 60),
    ("2-14", "figs", "hot", "quart", 50, 55, 60, 65),
    ("2-16", "grapes", "hot", "quart", 10, 15, 15, 20),
    ("2-19", "peaches", "hot", "pint", 20, 25, 30, 35),
    ("2-19", "peaches", "hot", "quart", 25, 30, 35, 40),
    ("2-19", "peaches", "raw", "quart", 30, 35, 40, 45),
    ("2-20", "pears", "hot", "quart", 25, 30, 35, 40),
    ("2-20", "asian-pears", "hot", "pint", 20, 25, 30, 35),
    ("2-22", "plums", "either", "pint", 20, 25, 30, 35),
    ("2-26", "apple-pie-filling", "hot", "quart", 25, 30, 35, 40),
    ("3-6", "tomato-juice", "hot", "quart", 40, 45, 50, 55),
    ("3-8", "tomatoes-crushed", "hot", "pint", 35, 40, 45, 50),
    ("3-8", "tomatoes-crushed", "hot", "quart", 45, 50, 55, 60),
    ("3-11", "tomatoes-whole-in-tomato-juice", "either", "pint", 85, 90, 95, 100),
    ("3-12", "tomatoes-whole-no-added-liquid", "raw", "quart", 85, 90, 95, 100),
    ("6-9", "sauerkraut", "raw", "quart", 25, 30, 35, 40),
    ("6-16", "pickled-beets", "hot", "pint", 30, 35, 40, 45),
    ("6-31", "spicy-jicama-relish", "hot", "pint", 20, 25, 30, 35),
]

# page, product, pack, jar size, minutes at: 0–1,000 ft, 1,001–6,000, above 6,000
THREE_BANDS = [
    ("2-7", "apple-juice", "hot", "quart", 5, 10, 15),
    ("2-7", "apple-juice", "hot", "half-gallon", 10, 15, 20),
    ("2-16", "grape-juice", "hot", "half-gallon", 10, 15, 20),
    ("2-22", "rhubarb", "hot", "quart", 15, 20, 25),
    ("3-17", "hot-sauce", "hot", "half-pint", 10, 15, 20),
    ("3-25", "tomato-green-chile-salsa", "hot", "pint", 15, 20, 25),
    ("6-10", "quick-dill-pickles", "raw", "pint", 10, 15, 20),
    ("6-10", "quick-dill-pickles", "raw", "quart", 15, 20, 25),
    ("6-14", "dilly-beans", "raw", "pint", 5, 10, 15),
    ("6-28", "pickle-relish", "hot", "half-pint", 10, 15, 20),
    ("7-8", "jam-or-jelly-with-pectin", "hot", "half-pint", 5, 10, 15),
]

# page, product, pack, jar size, minutes at every altitude
LOW_ACID = [
    ("4-6", "dried-beans-or-peas", "hot", "quart", 90),
    ("4-8", "green-beans", "either", "pint", 20),
    ("4-8", "green-beans", "either", "quart", 25),
    ("4-10", "beets", "hot", "pint", 30),
    ("4-10", "carrots", "either", "quart", 30),
    ("4-11", "corn-cream-style", "hot", "pint", 85),
    ("4-12", "corn-whole-kernel", "either", "quart", 85),
    ("4-15", "green-peas", "either", "quart", 40),
    ("4-17", "white-potatoes", "hot", "quart", 40),
    ("5-5", "chicken-or-rabbit-without-bones", "either", "pint", 75),
    ("5-5", "chicken-or-rabbit-with-bones", "either", "quart", 75),
    ("5-14", "smoked-fish", "raw", "pint", 110),
    ("5-15", "tuna", "either", "half-pint", 100),
]

# the foot and the top of each printed band; a band open at its top is tried just above its foot and far up
BANDS_FT = {
    4: [(0, 1000), (1001, 3000), (3001, 6000), (6001, 12_000)],
    3: [(0, 1000), (1001, 6000), (6001, 12_000)],
}
DIAL_PSI = {(0, 2000): 11, (2001, 4000): 12, (4001, 6000): 13, (6001, 8000): 14}
WEIGHTED_PSI = {(0, 1000): 10, (1001, 12_000): 15}


def printed(page: str, product: str, pack: str, jar_size: str, method: str):
    """The rows of that product, pack, size and canner that cite that page of the guide."""
    guide = f"Complete Guide to Home Canning, AIB 539 rev. 2015, Guide {page.partition('-')[0]} p. {page}"
    found = [
        row
        for row in processes.rows(facts(), product=product, method=method)
        if row.pack == pack and jar_size in row.jar_sizes and row.source.title == guide
    ]
    assert found, f"nothing cites page {page} for {product}"
    return found


@pytest.mark.parametrize("line", FOUR_BANDS + THREE_BANDS, ids=lambda line: f"{line[1]}, {line[2]}, {line[3]}")
def test_boiling_water_minutes_are_those_of_the_printed_page(line):
    page, product, pack, jar_size, *minutes = line
    (row,) = printed(page, product, pack, jar_size, "boiling-water")
    for edges, expected in zip(BANDS_FT[len(minutes)], minutes, strict=True):
        for altitude_ft in edges:
            figures = processes.at(row, altitude_ft)
            assert figures is not None
            assert (figures.minutes, figures.pressure_psi) == (expected, None)


@pytest.mark.parametrize("line", LOW_ACID, ids=lambda line: f"{line[1]}, {line[3]}")
@pytest.mark.parametrize(("method", "psi_by_band"), [("pressure-dial", DIAL_PSI), ("pressure-weighted", WEIGHTED_PSI)])
def test_pressure_figures_are_those_of_the_printed_page(line, method, psi_by_band):
    page, product, pack, jar_size, minutes = line
    (row,) = printed(page, product, pack, jar_size, method)
    for edges, psi in psi_by_band.items():
        for altitude_ft in edges:
            figures = processes.at(row, altitude_ft)
            assert figures is not None
            assert (figures.minutes, figures.pressure_psi) == (minutes, psi)


def test_fruit_takes_6_psi_on_a_dial_and_5_on_a_weight_at_the_lowest_altitudes():
    """Guide 2, pages 2-31 and 2-32: peaches, hot pack, 10 minutes."""
    for method, expected in [("pressure-dial", [6, 7, 8, 9]), ("pressure-weighted", [5, 10])]:
        rows = list(processes.rows(facts(), product="peaches", method=method, jar_size="quart"))
        assert rows
        for row in rows:
            assert [figures.pressure_psi for figures in row.bands] == expected
            assert {figures.minutes for figures in row.bands} == {10}


def test_crushed_tomatoes_take_their_acid_jar_by_jar():
    """Guide 3, page 3-5: 2 tablespoons of bottled lemon juice or 1/2 teaspoon of citric acid per quart."""
    rows = list(processes.rows(facts(), product="tomatoes-crushed"))
    assert rows
    for row in rows:
        amounts = {acid.name: (acid.unit, acid.per_jar["quart"], acid.per_jar["pint"]) for acid in row.acids}
        assert amounts["bottled lemon juice"] == ("tbsp", 2, 1)
        assert amounts["citric acid"] == ("tsp", 0.5, 0.25)


def test_no_dial_gauge_figure_stands_above_8000_feet():
    """All dial-gauge tables of the guide end there."""
    rows = list(processes.rows(facts(), method="pressure-dial"))
    assert rows
    for row in rows:
        assert processes.at(row, 8001) is None

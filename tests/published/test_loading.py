import csv
import dataclasses
import json
import re
import shutil
from collections import Counter
from fractions import Fraction
from pathlib import Path
from time import process_time

import pytest

from service.core.measures.jars import JAR_ML
from service.core.rules.facts import Evidence
from service.core.scheduling.figures import Figures
from service.published import loading
from service.published.loading import BadFigure, facts, load, load_kitchen_figures

DATA = Path(loading.__file__).parent / "data"


def table(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def lines(name: str) -> list[dict]:
    return [json.loads(line) for line in (DATA / name).read_text(encoding="utf-8").splitlines()]


def cells(text: str) -> list[tuple[int, int | None, int]]:
    """Bands as printed, read by another route than the loader's: (low, high, figure)."""
    found = re.findall(r"(\d+)(?:-(\d+)|\+):(\d+)", text)
    return [(int(low), int(high) if high else None, int(figure)) for low, high, figure in found]


def test_every_cell_of_the_process_tables_is_loaded_as_it_stands():
    rows = table("processes.csv")
    assert len(rows) == len(facts().processes) == 374
    for row, process in zip(rows, facts().processes, strict=True):
        assert (row["id"], row["product"], row["family"]) == (process.id, process.product, process.family)
        assert (row["pack"], row["method"], row["acidity"]) == (process.pack, process.method, process.acidity)
        assert tuple(row["jar_sizes"].split()) == process.jar_sizes
        loaded = [(each.band.low_ft, each.band.high_ft, each.minutes, each.pressure_psi) for each in process.bands]
        if row["pressure_psi"]:
            expected = [(low, high, int(row["minutes"]), psi) for low, high, psi in cells(row["pressure_psi"])]
        else:
            expected = [(low, high, minutes, None) for low, high, minutes in cells(row["minutes"])]
        assert loaded == expected
        assert process.source.evidence == row["evidence"]


def test_steam_stands_for_boiling_water_only_where_acid_food_takes_45_minutes_or_less():
    """Burning issue: using atmospheric steam canners, National Center for Home Food Preservation."""
    for process in facts().processes:
        for each in process.bands:
            short = process.method == "boiling-water" and process.acidity != "low-acid" and each.minutes <= 45
            by_hand = process.product == "lemon-curd"  # its canner water must start cool
            assert each.atmospheric_steam == (short and not by_hand)


def test_jars_are_sterile_where_boiling_water_takes_less_than_10_minutes():
    """Complete Guide to Home Canning, AIB 539 rev. 2015, Guide 1 page 1-14."""
    for process in facts().processes:
        for each in process.bands:
            assert each.sterile_jars == (process.method == "boiling-water" and each.minutes < 10)


def test_every_ingredient_keeps_the_mark_of_evidence_of_each_of_its_figures():
    rows = table("ingredients.csv")
    assert len(rows) == len(facts().ingredients)
    marks = [("ph", "ph"), ("solids", "soluble_solids"), ("acid_strength", "acid_strength"), ("pectin", "pectin_class")]
    for row, ingredient in zip(rows, facts().ingredients, strict=True):
        assert (row["id"], row["group"]) == (ingredient.id, ingredient.group)
        assert row["evidence"] == ingredient.source.evidence
        for column, figure in marks:
            source = ingredient.sources.get(figure)
            assert (source.evidence if source else "") == row[f"{column}_evidence"]


def test_every_form_of_an_ingredient_keeps_its_weights_and_its_mark_of_evidence():
    loaded = [(ingredient.id, form) for ingredient in facts().ingredients for form in ingredient.forms]
    rows = sorted(table("ingredient_forms.csv"), key=lambda row: (row["ingredient"], row["form"]))
    loaded.sort(key=lambda pair: (pair[0], pair[1].form))
    for row, (ingredient_id, form) in zip(rows, loaded, strict=True):
        assert (row["ingredient"], row["form"], row["evidence"]) == (ingredient_id, form.form, form.source.evidence)
        if row["grams_per_cup"]:
            assert form.grams_per_cup is not None
            assert form.grams_per_cup.contains(Fraction(row["grams_per_cup"]))
        if row["cup_low"]:
            assert form.grams_per_cup is not None
            assert form.grams_per_cup.low <= Fraction(row["cup_low"])


def test_a_cup_of_granulated_sugar_weighs_200_grams():
    """USDA National Nutrient Database for Standard Reference, Release 26, item 19335."""
    (form,) = facts().ingredient["sugar-granulated"].forms
    assert form.grams_per_cup is not None
    assert form.grams_per_cup.contains(200)


def test_memory_marks_are_kept():
    marks = Counter(statement.source.evidence for statement in facts().statements)
    assert marks == {Evidence.READ: 219, Evidence.MEMORY: 19, Evidence.COMMON_PRACTICE: 18}
    recalled = {process.product for process in facts().processes if process.source.evidence is Evidence.MEMORY}
    assert recalled == {"choice-salsa", "lemon-curd"}


def test_jar_sizes_hold_what_their_names_say():
    """NIST Handbook 44, Appendix C, for the fluid ounce."""
    assert {size.name: size.millilitres for size in facts().jar_sizes} == JAR_ML


def test_every_tested_recipe_and_its_own_processes_are_loaded():
    rows = lines("tested_recipes.jsonl")
    assert len(rows) == len(facts().tested_recipes) == 118
    for row, recipe in zip(rows, facts().tested_recipes, strict=True):
        assert (row["id"], row["product"]) == (recipe.id, recipe.product)
        assert [each["line"] for each in row["ingredients"]] == [each.line for each in recipe.ingredients]
        assert len(row["options"]) == len(recipe.options)
        for number, (printed, option) in enumerate(zip(row["options"], recipe.options, strict=True), start=1):
            assert option.id == f"recipe:{recipe.id}:{number}"
            assert option.covers == "formula"
            assert option.product == (recipe.product or recipe.id)
            assert len(option.bands) == len(cells(printed.get("pressure_psi") or printed.get("minutes", "")))


def test_a_third_of_a_cup_is_a_third():
    recipe = facts().tested_recipe["pear-butter"]
    (juice,) = [each for each in recipe.ingredients if each.name == "orange juice"]
    assert juice.amount is not None
    assert juice.amount.low == juice.amount.high == Fraction(1, 3)


def test_every_ingredient_of_a_tested_recipe_is_known_by_name():
    known = {name.casefold() for each in facts().ingredients for name in (each.name, *each.aliases)}
    for recipe in facts().tested_recipes:
        for each in recipe.ingredients:
            assert {each.name.casefold(), *(other.name.casefold() for other in each.alternatives)} <= known


def test_water_boils_at_208_and_a_half_degrees_at_2000_feet():
    """Complete Guide to Home Canning, process adjustments at high altitudes."""
    printed = [
        point.fahrenheit
        for point in facts().boiling_points
        if point.altitude_ft == 2000 and point.what == "boiling" and "Complete Guide" in point.source.title
    ]
    assert printed == [Fraction("208.5")]


def test_a_standard_canner_holds_seven_quarts():
    """Recommended canners, Complete Guide to Home Canning, Guide 1."""
    loads = {
        (load.canner_kind, load.canner_size, load.jar_size): load.jars
        for load in facts().canner_loads
        if load.source.evidence is Evidence.READ
    }
    assert loads["boiling-water", "standard (about 21 qt)", "quart"].exact
    assert loads["boiling-water", "standard (about 21 qt)", "quart"].low == 7


def test_the_figures_are_read_in_less_than_300_milliseconds():
    """Of this process's own time, the best of three: a busy machine is no slow loader."""
    taken = []
    for _ in range(3):
        started = process_time()
        load()
        taken.append(process_time() - started)
    assert min(taken) < 0.3


def test_the_figures_are_read_once():
    assert facts() is facts()


def test_every_source_is_cited_somewhere():
    cited = " ".join(path.read_text(encoding="utf-8") for path in DATA.iterdir() if path.name != "sources.csv")
    assert [row["key"] for row in table("sources.csv") if row["key"] not in cited] == []


@pytest.fixture
def folder(tmp_path):
    shutil.copytree(DATA, tmp_path / "data")
    return tmp_path / "data"


def spoil(path: Path, row: int, **changes: object) -> None:
    """Change cells of one row: of a table, counted with its heading, or of a file of JSON lines."""
    if path.suffix == ".csv":
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        rows[row - 2].update({name: str(value) for name, value in changes.items()})
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
    else:
        texts = path.read_text(encoding="utf-8").splitlines()
        texts[row - 1] = json.dumps(json.loads(texts[row - 1]) | changes)
        path.write_text("\n".join(texts) + "\n", encoding="utf-8")


BAD_ROWS = [
    pytest.param("processes.csv", 17, {"minutes": "0-1000:2.5"}, "not a whole number", id="half a minute"),
    pytest.param("processes.csv", 17, {"minutes": "0-1000:-5"}, "not a whole number", id="minutes below zero"),
    pytest.param("processes.csv", 17, {"minutes": "0-1000:0"}, "zero", id="no minutes"),
    pytest.param("processes.csv", 17, {"minutes": "0-1000:20 1002-3000:25"}, "gap", id="a gap between bands"),
    pytest.param("processes.csv", 17, {"minutes": "0-1000:20 1000-3000:25"}, "overlap", id="bands that overlap"),
    pytest.param("processes.csv", 17, {"minutes": "0+:20 6001+:25"}, "overlap", id="a band after an open one"),
    pytest.param("processes.csv", 17, {"minutes": "1-1000:20"}, "gap", id="a first band above the sea"),
    pytest.param("processes.csv", 17, {"minutes": "1000-0:20"}, "ends before", id="a band upside down"),
    pytest.param("processes.csv", 17, {"minutes": "low:20"}, "no altitude band", id="a band in words"),
    pytest.param(
        "processes.csv", 17, {"minutes": "0-1000:30 1001+:25", "steam": ""}, "falls", id="less time higher up"
    ),
    pytest.param("processes.csv", 17, {"minutes": ""}, "missing", id="no minutes at all"),
    pytest.param("processes.csv", 17, {"jar_sizes": "pint gill"}, "gill", id="an unknown jar size"),
    pytest.param("processes.csv", 17, {"jar_sizes": "pint pint"}, "twice", id="a jar size twice"),
    pytest.param("processes.csv", 17, {"source": ""}, "source is missing", id="no source"),
    pytest.param("processes.csv", 17, {"source": "hearsay"}, "not among the sources", id="an unknown source"),
    pytest.param("processes.csv", 17, {"evidence": "sure"}, "not a known word", id="an unknown mark of evidence"),
    pytest.param("processes.csv", 17, {"evidence": ""}, "evidence is missing", id="no mark of evidence"),
    pytest.param("processes.csv", 17, {"headspace_in": "-1/2"}, "negative", id="headspace below zero"),
    pytest.param("processes.csv", 17, {"headspace_in": "some"}, "not a number", id="headspace in words"),
    pytest.param("processes.csv", 17, {"method": "oven"}, "not a known word", id="an unknown method"),
    pytest.param("processes.csv", 17, {"acidity": "low-acid"}, "boiling water", id="low-acid food in boiling water"),
    pytest.param("processes.csv", 17, {"sterile_jars": "0-1000"}, "under 10 minutes", id="sterile jars for no reason"),
    pytest.param("processes.csv", 17, {"product": "cake"}, "cake", id="a product that nothing is said of"),
    pytest.param("processes.csv", 17, {"id": "apples-sliced-hot-bw"}, "twice", id="an id twice"),
    pytest.param("processes.csv", 3, {"pressure_psi": "0-2000:16"}, "above 15", id="more than 15 psi"),
    pytest.param("processes.csv", 3, {"steam": "0-2000"}, "steam", id="steam for a pressure process"),
    pytest.param("covers.csv", 2, {"covers": "all"}, "not a known word", id="cover in another word"),
    pytest.param("covers.csv", 2, {"product": "cake"}, "apples-sliced", id="a cover gone"),
    pytest.param("no_process.csv", 2, {"reason": ""}, "reason is missing", id="no reason"),
    pytest.param("sources.csv", 2, {"title": ""}, "title is missing", id="a source without a title"),
    pytest.param("ingredients.csv", 3, {"id": "apple"}, "twice", id="an ingredient twice"),
    pytest.param("ingredients.csv", 3, {"aliases": "apples"}, "belongs to apple", id="a name of two ingredients"),
    pytest.param("ingredients.csv", 3, {"group": ""}, "group is missing", id="an ingredient in no group"),
    pytest.param("ingredients.csv", 3, {"acidity": "sour"}, "not a known word", id="an unknown acidity"),
    pytest.param("ingredients.csv", 3, {"ph_low": "5"}, "below", id="a range upside down"),
    pytest.param("ingredients.csv", 3, {"solids_pct_high": "101"}, "more than everything", id="more than 100 percent"),
    pytest.param("ingredients.csv", 3, {"ph_evidence": "maybe"}, "not a known word", id="a pH of unknown evidence"),
    pytest.param("ingredient_forms.csv", 2, {"grams_per_cup": "-125"}, "negative", id="a weight below zero"),
    pytest.param("ingredient_forms.csv", 2, {"grams_per_cup": "nan"}, "not a number", id="a weight that is no number"),
    pytest.param("ingredient_forms.csv", 2, {"ingredient": "cake"}, "not known", id="a form of nothing"),
    pytest.param("boiling_points.csv", 2, {"fahrenheit": ""}, "missing", id="no temperature"),
    pytest.param("gauge_bands.csv", 2, {"high_ft": "-5"}, "no altitude band", id="a gauge band that is none"),
    pytest.param("tested_recipes.jsonl", 5, {"options": []}, "options is missing", id="a recipe without a process"),
    pytest.param("tested_recipes.jsonl", 5, {"ingredients": []}, "ingredients is missing", id="an empty recipe"),
    pytest.param("tested_recipes.jsonl", 5, {"product": "cake"}, "no published row", id="a recipe of no product"),
    pytest.param("tested_recipes.jsonl", 5, {"jar_sizes": ["gill"]}, "unknown jar size", id="a recipe in no jar"),
    pytest.param("tested_recipes.jsonl", 5, {"id": "peach-butter"}, "twice", id="a recipe twice"),
    pytest.param(
        "tested_recipes.jsonl", 5, {"evidence": "sure"}, "not a known word", id="a recipe of unknown evidence"
    ),
    pytest.param("rules.jsonl", 9, {"severity": "dire"}, "not a known word", id="an unknown severity"),
    pytest.param("rules.jsonl", 9, {"figures": {"cups": 3}}, "figures", id="a figure that is not text"),
    pytest.param("rules.jsonl", 9, {"example_bad": ""}, "example_bad is missing", id="a rule without an example"),
    pytest.param("rules.jsonl", 9, {"permits": "yes"}, "neither true nor false", id="a flag in words"),
]


@pytest.mark.parametrize(("file", "row", "changes", "says"), BAD_ROWS)
def test_a_bad_row_is_refused_with_its_file_and_row(folder, file, row, changes, says):
    spoil(folder / file, row, **changes)
    with pytest.raises(BadFigure, match=re.escape(says)) as refused:
        load(folder)
    named = "processes.csv, row 2" if file == "covers.csv" and "product" in changes else f"{file}, row {row}"
    assert str(refused.value).startswith(f"{named}: ")


def test_a_row_with_a_cell_too_few_is_refused(folder):
    path = folder / "covers.csv"
    path.write_text(path.read_text().replace("applesauce,plain-pack", "applesauce"))
    with pytest.raises(BadFigure, match=r"covers\.csv, row 3: the row has not as many cells as the heading"):
        load(folder)


def test_a_line_that_is_no_json_is_refused(folder):
    path = folder / "rules.jsonl"
    path.write_text("{\n" + path.read_text())
    with pytest.raises(BadFigure, match=r"rules\.jsonl, row 1: the line is not JSON"):
        load(folder)


def test_a_jar_size_that_no_row_knows_is_refused(folder):
    path = folder / "canner_loads.yaml"
    path.write_text(path.read_text().replace("jar_size: quart", "jar_size: gill", 1))
    with pytest.raises(BadFigure, match=r"canner_loads\.yaml, row 1: jar_size is not a known word: gill"):
        load(folder)


def test_every_figure_of_a_kitchen_is_loaded_as_it_stands():
    rows = {row["name"]: row for row in table("kitchen_figures.csv")}
    found = load_kitchen_figures()
    assert found.keys() == rows.keys() == {field.name for field in dataclasses.fields(Figures)}
    for name, each in found.items():
        figure = each.figure
        as_text = (str(figure.minutes), str(figure.least), str(figure.most), figure.says)
        assert as_text == (*(rows[name][column] for column in ("minutes", "least", "most")), rows[name]["says"])
        assert each.source.evidence == rows[name]["evidence"]


def test_no_kitchen_vents_cools_or_rests_its_jars_for_less_than_is_published():
    """Vent 10 minutes, wait 5 after the process, check seals after 12 hours: USDA AIB 539, guide 1 (from memory)."""
    least = {name: each.figure.least for name, each in load_kitchen_figures().items()}
    assert least["vent_minutes"] >= 10
    assert least["stand_minutes"] >= 5
    assert least["rest_minutes"] >= 12 * 60


@pytest.mark.parametrize(
    ("row", "changes", "says"),
    [
        pytest.param(2, {"minutes": 300}, "minutes lie outside least and most", id="more than the most"),
        pytest.param(2, {"minutes": 33}, "minutes are not in steps of 5", id="off the grid"),
        pytest.param(3, {"least": 2}, "minutes are not in steps of 5", id="least off the grid"),
        pytest.param(2, {"minutes": "half an hour"}, "minutes", id="no number"),
        pytest.param(2, {"name": "nap_minutes"}, "name is not a known word", id="no such figure"),
        pytest.param(2, {"says": ""}, "says", id="says nothing"),
        pytest.param(2, {"source": "hearsay"}, "source", id="no such source"),
    ],
)
def test_a_bad_figure_of_a_kitchen_is_refused_with_its_row(folder, row, changes, says):
    spoil(folder / "kitchen_figures.csv", row, **changes)
    with pytest.raises(BadFigure, match=rf"^kitchen_figures\.csv, row {row}: .*{re.escape(says)}"):
        load_kitchen_figures(folder)


def test_a_figure_of_a_kitchen_that_is_left_out_or_there_twice_is_refused(folder):
    path = folder / "kitchen_figures.csv"
    heading, first, *others = path.read_text().splitlines(keepends=True)
    path.write_text("".join([heading, *others]))
    with pytest.raises(BadFigure, match=r"kitchen_figures\.csv: prep_minutes is missing"):
        load_kitchen_figures(folder)
    path.write_text("".join([heading, first, first, *others]))
    with pytest.raises(BadFigure, match=r"kitchen_figures\.csv, row 3"):
        load_kitchen_figures(folder)

"""One row of a data file into one published fact; whatever can't be one is refused."""

from dataclasses import dataclass, fields
from functools import cache
from typing import Any

from service.core.measures.bounds import Bounds
from service.core.measures.units import ML_PER_FLUID_OUNCE
from service.core.rules.facts import (
    REFRIGERATE,
    Acid,
    Band,
    BandFigures,
    BoilingPoint,
    CannerLoad,
    Evidence,
    GaugeBand,
    Ingredient,
    IngredientForm,
    JarSize,
    NoProcess,
    PerJarAmount,
    Process,
    ProduceYield,
    Severity,
    Source,
    Statement,
    TestedAlternative,
    TestedIngredient,
    TestedRecipe,
)
from service.core.scheduling.figures import Figure, Figures
from service.core.scheduling.slots import GRID_MINUTES
from service.published.cells import Row

FAMILIES = frozenset(
    {"jam", "jelly", "preserve", "marmalade", "fruit-butter", "conserve", "fruit", "juice", "pie-filling", "tomato"}
    | {"salsa", "pickle", "relish", "chutney", "ferment", "vegetable", "legume", "meat", "fish", "soup", "other"}
)
ACIDITIES = frozenset({"acid", "acidified", "low-acid"})
INGREDIENT_ACIDITIES = frozenset({"acid", "borderline", "low-acid", "na"})
KINDS = frozenset(
    {"fruit", "vegetable", "sugar", "salt", "acid", "pectin", "thickener", "spice", "fat", "dairy", "meat"}
    | {"liquid", "other"}
)
PACKS = frozenset({"hot", "raw", "either"})
PRESSURE = frozenset({"pressure-dial", "pressure-weighted"})
METHODS = PRESSURE | {"boiling-water", REFRIGERATE}
ACID_SOURCES = frozenset({"natural", "per-jar", "recipe", "fermentation", "none"})
ACIDS = frozenset({"bottled lemon juice", "citric acid", "vinegar, 5 percent"})
COVERS = frozenset({"plain-pack", "formula"})
PECTINS = frozenset({"none", "regular-powder", "regular-liquid"})
UNITS = frozenset({"cup", "tsp", "tbsp", "lb", "oz", "each", "qt", "pt", "gal", "pouch", "package"})
HOMES = frozenset({"recipe-check", "batch-day", "records-and-sale", "advice"})
_EVIDENCE = frozenset(Evidence)
CLASSES = frozenset({"high", "medium", "low", "na"})

STEAM_LIMIT_MINUTES = 45  # Burning issue: using atmospheric steam canners, NCHFP
STERILE_BELOW_MINUTES = 10  # Complete Guide to Home Canning, AIB 539 rev. 2015, Guide 1 p. 1-14
MAX_PSI = 15  # Complete Guide to Home Canning, AIB 539 rev. 2015, Guide 1 p. 1-11

Sources = dict[str, tuple[str, str, str | None]]  # key -> title, publisher, url


def read_source(row: Row, sources: Sources, keys: str = "source", evidence: str = "evidence") -> Source:
    """The source that a row names; several keys in one cell are read as one source."""
    found = [sources.get(key) for key in row.required(keys).split()]
    known = tuple(source for source in found if source is not None)
    if len(known) < len(found):
        raise row.bad(f"{keys} is not among the sources: {row.text(keys)}")
    where = row.text("where") if keys == "source" else ""
    note = row.text("source_note") if keys == "source" else ""
    return _source(known, where, note, Evidence(row.word(evidence, _EVIDENCE)))


@cache  # several thousand cells name a few hundred sources
def _source(known: tuple[tuple[str, str, str | None], ...], where: str, note: str, evidence: Evidence) -> Source:
    titles, publishers, urls = zip(*known, strict=True)
    title = ", ".join(part for part in ("; ".join(titles), where) if part) + (f" ({note})" if note else "")
    return Source(
        title=title,
        publisher="; ".join(dict.fromkeys(publisher for publisher in publishers if publisher)),
        url=next((url for url in urls if url), None),
        evidence=evidence,
    )


def read_process(row: Row, covers: dict[str, str], sizes: frozenset[str], source: Source) -> Process:
    product = row.required("product")
    if product not in covers:
        raise row.bad(f"nothing says what a row of {product} covers")
    acid_source = row.word("acid_source", ACID_SOURCES)
    acids = _acids(row, sizes)
    if acid_source == "per-jar" and not acids:
        raise row.bad("acids is missing")
    acidity = row.word("acidity", ACIDITIES)
    method = row.word("method", METHODS)
    return Process(
        id=row.required("id"),
        product=product,
        family=row.word("family", FAMILIES),
        acidity=acidity,
        pack=row.word("pack", PACKS),
        jar_sizes=row.words("jar_sizes", sizes),
        method=method,
        bands=_band_figures(row, method, acidity),
        headspace_in=row.fraction("headspace_in"),
        acid_source=acid_source,
        acids=acids,
        starch=row.text("starch") or None,
        covers=covers[product],
        notes=row.text("notes"),
        source=source,
    )


def _band_figures(row: Row, method: str, acidity: str) -> tuple[BandFigures, ...]:
    figures: list[tuple[Band, int, int | None]]
    if method == REFRIGERATE:
        return ()
    if method in PRESSURE:
        minutes = row.whole("minutes")
        pressures = row.by_band("pressure_psi")
        if any(psi > MAX_PSI for _, psi in pressures):
            raise row.bad(f"pressure_psi is above {MAX_PSI}")
        figures = [(band, minutes, psi) for band, psi in pressures]
    else:
        if acidity == "low-acid":
            raise row.bad("low-acid food has no process in boiling water")
        if row.text("pressure_psi"):
            raise row.bad("pressure_psi stands beside boiling water")
        figures = [(band, minutes, None) for band, minutes in row.by_band("minutes")]
    if figures != sorted(figures, key=lambda figure: (figure[1], figure[2] or 0)):
        raise row.bad("a figure falls with altitude")
    if any(minutes == 0 or psi == 0 for _, minutes, psi in figures):
        raise row.bad("a figure is zero")
    steam, sterile = _flagged(row, "steam"), _flagged(row, "sterile_jars")
    unpressured = [(band, minutes) for band, minutes, psi in figures if psi is None]
    if not steam <= {band for band, minutes in unpressured if minutes <= STEAM_LIMIT_MINUTES}:
        raise row.bad("steam names a band that steam may not serve")
    if sterile != {band for band, minutes in unpressured if minutes < STERILE_BELOW_MINUTES}:
        raise row.bad(f"sterile_jars doesn't name just the bands under {STERILE_BELOW_MINUTES} minutes")
    return tuple(BandFigures(band, minutes, psi, band in sterile, band in steam) for band, minutes, psi in figures)


def _flagged(row: Row, name: str) -> set[Band]:
    return {row.band(name, printed) for printed in row.text(name).split()}


def _acids(row: Row, sizes: frozenset[str]) -> tuple[Acid, ...]:
    """Any one of the acids in the cell: citric acid tsp pint:1/4 quart:1/2 | vinegar, 5 percent tbsp quart:4."""
    acids: list[Acid] = []
    for printed in filter(None, row.text("acids").split(" | ")):
        words = printed.split()
        amounts = [word for word in words if ":" in word]
        name, unit = " ".join(words[: -len(amounts) - 1]), words[-len(amounts) - 1]
        if name not in ACIDS or unit not in ("tsp", "tbsp") or not amounts:
            raise row.bad(f"acids has an acid that can't be read: {printed}")
        acids.append(Acid(name, unit, row.by_jar("acids", amounts, sizes)))
    return tuple(acids)


def read_no_process(row: Row, sources: Sources) -> NoProcess:
    exception = row.text("exception")
    instead = row.required("instead") + (f"; exception: {exception}" if exception else "")
    return NoProcess(
        row.required("id"), row.required("product"), row.required("reason"), instead, read_source(row, sources)
    )


def read_form(row: Row, sources: Sources) -> IngredientForm:
    cup, low, high = (row.fraction(name) for name in ("grams_per_cup", "cup_low", "cup_high"))
    known = [grams for grams in (cup, low, high) if grams is not None]
    refuse = row.share("refuse_pct", "refuse_pct")
    return IngredientForm(
        form=row.required("form"),
        grams_per_cup=Bounds(min(known), max(known)) if known else None,
        grams_per_tbsp=row.bounds("grams_per_tbsp", "grams_per_tbsp"),
        grams_per_tsp=row.bounds("grams_per_tsp", "grams_per_tsp"),
        grams_each=row.bounds("grams_each", "grams_each"),
        source=read_source(row, sources),
        each=row.text("each"),
        refuse=refuse.low if refuse else None,
    )


def read_ingredient(row: Row, forms: tuple[IngredientForm, ...], sources: Sources) -> Ingredient:
    figures = {
        "ph": row.bounds("ph_low", "ph_high"),
        "solids": row.share("solids_pct_low", "solids_pct_high"),
        "acid_strength": row.share("acid_pct_low", "acid_pct_high"),
    }
    cited = {name: read_source(row, sources, f"{name}_source", f"{name}_evidence") for name in figures if figures[name]}
    if row.text("pectin_source"):
        cited["pectin_class"] = read_source(row, sources, "pectin_source", "pectin_evidence")
    if "solids" in cited:
        cited["soluble_solids"] = cited.pop("solids")
    return Ingredient(
        id=row.required("id"),
        name=row.required("name"),
        aliases=tuple(filter(None, row.text("aliases").split(";"))),
        kind=row.word("kind", KINDS),
        group=row.required("group"),
        acidity=row.word("acidity", INGREDIENT_ACIDITIES),
        ph=figures["ph"],
        soluble_solids=figures["solids"],
        acid_strength=figures["acid_strength"],
        pectin_class=row.word("pectin_class", CLASSES),
        package=row.text("package"),
        notes=row.text("notes"),
        forms=forms,
        source=read_source(row, sources),
        sources=cited,
    )


def read_tested_recipe(row: Row, covers: dict[str, str], sizes: frozenset[str], sources: Sources) -> TestedRecipe:
    recipe_id = row.required("id")
    product = row.text("product") or None
    if product is not None and product not in covers:
        raise row.bad(f"product has no published row: {product}")
    jar_sizes = row.texts("jar_sizes")
    if not jar_sizes or not sizes.issuperset(jar_sizes):
        raise row.bad("jar_sizes has an unknown jar size")
    source = read_source(row, sources)
    options = tuple(
        _option(
            row, number, option, product or recipe_id, sizes, read_source(row, sources, evidence="process_evidence")
        )
        for number, option in enumerate(row.list("options"), start=1)
    )
    if not options:
        raise row.bad("options is missing")
    ingredients = tuple(_tested_ingredient(row.within(cells), sizes) for cells in row.list("ingredients"))
    if not ingredients:
        raise row.bad("ingredients is missing")
    fewest = row.fraction("yield_count")
    return TestedRecipe(
        id=recipe_id,
        title=row.required("title"),
        family=row.word("family", FAMILIES),
        product=product,
        pectin=row.word("pectin", PECTINS),
        ingredients=ingredients,
        steps=row.texts("steps"),
        prepared_fruit_cups=_up_to(row, "prepared_fruit_cups"),
        yield_count=_up_to(row, "yield_count") if fewest is not None else None,
        yield_jar=row.word("yield_jar", sizes),
        jar_sizes=jar_sizes,
        pack=row.word("pack", PACKS),
        headspace_in=row.fraction("headspace_in"),
        options=options,
        amount_basis=row.text("amount_basis"),
        notes=row.text("notes"),
        source=source,
    )


def _up_to(row: Row, name: str) -> Bounds | None:
    """A printed amount, or a range of them where the row has a second cell ending in _max."""
    most = f"{name}_max" if row.cells.get(f"{name}_max") is not None else name
    return row.bounds(name, most)


def _option(
    row: Row, number: int, option: dict[str, Any], product: str, sizes: frozenset[str], source: Source
) -> Process:
    """A process printed for the recipe itself: it covers this formula and nothing else."""
    shared = {name: row.cells.get(name) for name in ("family", "acidity", "acid_source", "acids", "starch")}
    headspace = {"headspace_in": row.cells.get("headspace_in"), "notes": row.cells.get("notes")}
    cells = {"id": f"recipe:{row.text('id')}:{number}", "product": product, **shared, **headspace, **option}
    return read_process(row.within(cells), {product: "formula"}, sizes, source)


def _tested_ingredient(row: Row, sizes: frozenset[str]) -> TestedIngredient:
    return TestedIngredient(
        name=row.required("name"),
        amount=_up_to(row, "amount"),
        unit=row.word("unit", UNITS) if row.text("unit") else None,
        form=row.text("form") or None,
        optional=row.flag("optional"),
        per_jar=_per_jar(row, sizes),
        alternatives=tuple(
            TestedAlternative(
                name=other.required("name"),
                amount=_up_to(other, "amount"),
                unit=other.word("unit", UNITS) if other.text("unit") else None,
                form=other.text("form") or None,
                per_jar=_per_jar(other, sizes),
            )
            for other in (row.within(cells) for cells in row.list("alternatives"))
        ),
        line=row.required("line"),
    )


def _per_jar(row: Row, sizes: frozenset[str]) -> PerJarAmount | None:
    cells = row.cells.get("per_jar")
    if cells is None:
        return None
    inner = row.within(cells)
    amount = inner.fraction("amount")
    if amount is None:
        raise inner.bad("per_jar has no amount")
    return PerJarAmount(amount, inner.word("unit", UNITS), inner.word("jar", sizes))


def read_statement(row: Row, sources: Sources) -> Statement:
    figures = row.cells.get("figures", {})
    if not isinstance(figures, dict) or not all(isinstance(value, str) for value in figures.values()):
        raise row.bad("figures are not text by name")
    return Statement(
        id=row.required("id"),
        area=row.required("area"),
        severity=row.word("severity", frozenset(Severity)),
        home=row.word("home", HOMES),
        says=row.required("says"),
        fix=row.required("fix"),
        figures=figures,
        exceptions=row.texts("exceptions"),
        example_ok=row.required("example_ok"),
        example_bad=row.required("example_bad"),
        permits=row.flag("permits"),
        skipped_for_tested_formula=row.flag("skipped_for_tested_formula"),
        source=read_source(row, sources),
    )


def read_jar_size(row: Row) -> JarSize:
    ounces = row.fraction("us_fluid_ounces")
    if not ounces:
        raise row.bad("us_fluid_ounces is missing")
    return JarSize(row.required("name"), row.texts("aliases"), ounces * ML_PER_FLUID_OUNCE)


def read_boiling_point(row: Row, sources: Sources) -> BoilingPoint:
    fahrenheit = row.fraction("fahrenheit")
    if fahrenheit is None:
        raise row.bad("fahrenheit is missing")
    what = row.word("what", {"boiling", "jelly"})
    return BoilingPoint(row.whole("altitude_ft"), what, fahrenheit, read_source(row, sources))


def read_gauge_band(row: Row, sources: Sources) -> GaugeBand:
    band = row.band("low_ft", f"{row.text('low_ft')}-{row.text('high_ft')}")
    return GaugeBand(
        row.word("gauge", {"dial", "weighted"}), row.whole("pressure_psi"), band, read_source(row, sources)
    )


def read_canner_load(row: Row, sizes: frozenset[str], sources: Sources) -> CannerLoad:
    jars = row.bounds("jars_low", "jars_high")
    if jars is None or not jars.low:
        raise row.bad("jars_low is missing")
    return CannerLoad(
        canner_kind=row.word("canner_kind", {"boiling-water", "atmospheric-steam", "pressure"}),
        canner_size=row.required("canner_size"),
        jar_size=row.word("jar_size", sizes),
        jars=jars,
        notes=row.text("notes"),
        source=read_source(row, sources),
    )


def read_produce_yield(row: Row, sources: Sources) -> ProduceYield:
    known = [row.fraction(f"lb_per_quart_{which}") for which in ("avg", "low", "high")]
    pounds = [amount for amount in known if amount is not None]
    return ProduceYield(
        produce=row.required("produce"),
        form=row.required("form"),
        basis=row.text("basis"),
        pounds_per_quart=Bounds(min(pounds), max(pounds)) if pounds else None,
        pounds_per_quart_georgia=row.bounds("uga_lb_per_quart_low", "uga_lb_per_quart_high"),
        pounds_per_bushel=row.fraction("pounds_per_bushel"),
        notes=row.text("notes"),
        source=read_source(row, sources),
        containers=_containers(row),
    )


def _containers(row: Row) -> dict[str, Bounds]:
    """What one container of produce weighs, by the national table and by Georgia's."""
    printed = (
        (row.text("container"), row.fraction("pounds_per_container")),
        ("bushel", row.fraction("pounds_per_bushel")),
        (row.text("uga_container"), row.fraction("uga_pounds")),
    )
    found: dict[str, Bounds] = {}
    for container, pounds in printed:
        if container and pounds is not None:
            before = found.get(container, Bounds.exactly(pounds))
            found[container] = Bounds(min(before.low, pounds), max(before.high or pounds, pounds))
    return found


@dataclass(frozen=True, slots=True)
class KitchenFigure:
    """How long a step takes in a kitchen, and where that was published or that it is common practice."""

    figure: Figure
    source: Source


def read_kitchen_figure(row: Row, sources: Sources) -> KitchenFigure:
    figure = Figure(
        name=row.word("name", frozenset(each.name for each in fields(Figures))),
        minutes=row.whole("minutes"),
        least=row.whole("least"),
        most=row.whole("most"),
        says=row.required("says"),
    )
    if not figure.least <= figure.minutes <= figure.most:
        raise row.bad("minutes lie outside least and most")
    if any(minutes % GRID_MINUTES for minutes in (figure.minutes, figure.least, figure.most)):
        raise row.bad(f"minutes are not in steps of {GRID_MINUTES}")
    return KitchenFigure(figure, read_source(row, sources))

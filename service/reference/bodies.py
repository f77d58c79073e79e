"""The published figures as they are served."""

from fractions import Fraction
from typing import Any

from pydantic import Field

from service.core.measures.bounds import Bounds
from service.core.rules.facts import (
    REFRIGERATE,
    Ingredient,
    IngredientForm,
    PerJarAmount,
    Source,
    Statement,
    TestedAlternative,
    TestedIngredient,
    TestedRecipe,
)
from service.core.rules.processes import How, Option
from service.published.bodies import PublishedProcess, PublishedRange, PublishedSource
from service.web.bodies import Answer, Listed, example

_GUIDE = {
    "title": "Complete Guide to Home Canning, AIB 539 rev. 2015, Guide 2 p. 2-7",
    "publisher": "USDA National Institute of Food and Agriculture",
    "url": "https://nchfp.uga.edu/publications/publications_usda.html",
    "evidence": "read",
}
_PROCESS = {
    "id": "apples-sliced-hot-bw",
    "product": "apples-sliced",
    "family": "fruit",
    "acidity": "acid",
    "pack": "hot",
    "method": "boiling-water",
    "jar_sizes": ["pint", "quart"],
    "by": None,
    "altitude_band_ft": {"low": 1001, "high": 3000},
    "minutes": 25,
    "pressure_psi": None,
    "headspace_in": 0.5,
    "sterile_jars": False,
    "acid_source": "natural",
    "acid_per_jar": None,
    "starch": None,
    "covers": "plain-pack",
    "notes": "Hot pack only; raw pack gives poor quality.",
    "source": _GUIDE,
}
_RULE = {
    "id": "tomato-acid-floor",
    "area": "acid",
    "severity": "unsafe",
    "home": "recipe-check",
    "says": "Each quart of plain tomatoes holds at least 2 tbsp bottled lemon juice or 1/2 tsp citric acid.",
    "fix": "Put the missing acid straight into each jar before filling.",
    "figures": {"lemon_juice_tbsp_per_quart": "2"},
    "exceptions": ["vinegar option: see tomato-vinegar-floor"],
    "example_ok": "A quart of crushed tomatoes with 2 tbsp of bottled lemon juice.",
    "example_bad": "A quart of crushed tomatoes with 1 tbsp of bottled lemon juice.",
    "permits": False,
    "skipped_for_tested_formula": False,
    "source": _GUIDE | {"title": "Lemon juice and citric acid for canning tomatoes"},
}
_TESTED_RECIPE: dict[str, Any] = {
    "id": "apple-slices",
    "title": "Apples, sliced",
    "family": "fruit",
    "product": "apples-sliced",
    "pectin": "none",
    "ingredients": [
        {
            "name": "apple",
            "amount": 19,
            "amount_max": None,
            "unit": "lb",
            "form": "peeled, cored, sliced",
            "optional": False,
            "per_jar": None,
            "alternatives": [],
        }
    ],
    "lines": ["19 lb apples, peeled, cored, sliced"],
    "steps": ["peel", "cut", "boil-5-min", "fill", "process"],
    "prepared_fruit_cups": None,
    "yield_count": {"low": 7, "high": 7},
    "yield_jar": "quart",
    "jar_sizes": ["pint", "quart"],
    "pack": "hot",
    "headspace_in": 0.5,
    "kept_cold": False,
    "options": [_PROCESS | {"id": "recipe:apple-slices:1", "covers": "formula"}],
    "amount_basis": "average for a canner load of 7 quarts",
    "notes": "",
    "source": _GUIDE,
}
_INGREDIENT = {
    "id": "sugar-granulated",
    "name": "sugar, granulated",
    "aliases": ["sugar", "white sugar"],
    "kind": "sugar",
    "group": "granulated-sugar",
    "acidity": "na",
    "ph": None,
    "soluble_solids": None,
    "acid_strength": None,
    "pectin_class": "na",
    "pectin_source": None,
    "package": "",
    "notes": "",
    "forms": [
        {
            "form": "whole or as measured",
            "grams_per_cup": {"low": 200, "high": 200},
            "grams_per_tbsp": None,
            "grams_per_tsp": {"low": 4.2, "high": 4.2},
            "grams_each": None,
            "each": "",
            "refuse_share": 0,
            "source": _GUIDE | {"title": "USDA National Nutrient Database for Standard Reference, Release 26"},
        }
    ],
    "source": _GUIDE | {"title": "USDA National Nutrient Database for Standard Reference, Release 26"},
}


class ProcessPage(Listed[PublishedProcess]):
    """One item per published row and altitude band."""

    model_config = example(items=[_PROCESS], next_cursor=None)


class RuleItem(Answer):
    """One published statement, in our own words, with its source."""

    model_config = example(**_RULE)

    id: str
    area: str
    severity: str
    home: str = Field(description="where it is judged: recipe-check, batch-day, records-and-sale; advice is only shown")
    says: str
    fix: str
    figures: dict[str, str] = Field(description="the statement's numbers, the unit in the name")
    exceptions: list[str]
    example_ok: str = Field(description="what agrees with it, in a cook's words")
    example_bad: str = Field(description="what doesn't")
    permits: bool = Field(description="it allows a change rather than forbidding one")
    skipped_for_tested_formula: bool
    source: PublishedSource

    @classmethod
    def of(cls, statement: Statement) -> "RuleItem":
        """Show a statement."""
        return cls(
            id=statement.id,
            area=statement.area,
            severity=statement.severity,
            home=statement.home,
            says=statement.says,
            fix=statement.fix,
            figures=statement.figures,
            exceptions=list(statement.exceptions),
            example_ok=statement.example_ok,
            example_bad=statement.example_bad,
            permits=statement.permits,
            skipped_for_tested_formula=statement.skipped_for_tested_formula,
            source=PublishedSource.of(statement.source),
        )


class RulePage(Listed[RuleItem]):
    """Published statements, in the order of the catalogue."""

    model_config = example(items=[_RULE], next_cursor=None)


class TestedPerJar(Answer):
    """What goes into each jar of one size; it scales to other jars by volume."""

    amount: float
    unit: str
    jar: str

    @classmethod
    def of(cls, printed: PerJarAmount | None) -> "TestedPerJar | None":
        """Show an amount per jar, if there is one."""
        return cls(amount=float(printed.amount), unit=printed.unit, jar=printed.jar_size) if printed else None


class TestedAlternativeShown(Answer):
    """What may stand in an ingredient's place, with its own amount."""

    name: str
    amount: float | None
    amount_max: float | None
    unit: str | None
    form: str | None
    per_jar: TestedPerJar | None

    @classmethod
    def of(cls, printed: TestedAlternative) -> "TestedAlternativeShown":
        """Show an alternative."""
        amount, amount_max = _ends(printed.amount)
        return cls(
            name=printed.name,
            amount=amount,
            amount_max=amount_max,
            unit=printed.unit,
            form=printed.form,
            per_jar=TestedPerJar.of(printed.per_jar),
        )


class TestedIngredientShown(TestedAlternativeShown):
    """One ingredient of a tested recipe, in the fields of a recipe check."""

    optional: bool
    alternatives: list[TestedAlternativeShown]

    @classmethod
    def of_ingredient(cls, printed: TestedIngredient) -> "TestedIngredientShown":
        """Show an ingredient."""
        amount, amount_max = _ends(printed.amount)
        return cls(
            name=printed.name,
            amount=amount,
            amount_max=amount_max,
            unit=printed.unit,
            form=printed.form,
            per_jar=TestedPerJar.of(printed.per_jar),
            optional=printed.optional,
            alternatives=[TestedAlternativeShown.of(other) for other in printed.alternatives],
        )


class TestedRecipeItem(Answer):
    """A published, research-tested recipe with the processes printed for it."""

    model_config = example(**_TESTED_RECIPE)

    id: str
    title: str
    family: str
    product: str | None
    pectin: str
    ingredients: list[TestedIngredientShown]
    lines: list[str] = Field(description="the same ingredients as a cook would write them, one line each")
    steps: list[str]
    prepared_fruit_cups: PublishedRange | None
    yield_count: PublishedRange | None
    yield_jar: str
    jar_sizes: list[str]
    pack: str
    headspace_in: float | None
    kept_cold: bool = Field(description="no process is published: it is kept in the refrigerator")
    options: list[PublishedProcess] = Field(description="one per printed process and altitude band")
    amount_basis: str
    notes: str
    source: PublishedSource

    @classmethod
    def of(cls, recipe: TestedRecipe) -> "TestedRecipeItem":
        """Show a tested recipe."""
        return cls(
            id=recipe.id,
            title=recipe.title,
            family=recipe.family,
            product=recipe.product,
            pectin=recipe.pectin,
            ingredients=[TestedIngredientShown.of_ingredient(each) for each in recipe.ingredients],
            lines=[each.line for each in recipe.ingredients],
            steps=list(recipe.steps),
            prepared_fruit_cups=_range(recipe.prepared_fruit_cups),
            yield_count=_range(recipe.yield_count),
            yield_jar=recipe.yield_jar,
            jar_sizes=list(recipe.jar_sizes),
            pack=recipe.pack,
            headspace_in=_number(recipe.headspace_in),
            kept_cold=all(process.method == REFRIGERATE for process in recipe.options),
            options=[
                PublishedProcess.of(Option(process, figures, How.PRINTED))
                for process in recipe.options
                for figures in process.bands
            ],
            amount_basis=recipe.amount_basis,
            notes=recipe.notes,
            source=PublishedSource.of(recipe.source),
        )


class TestedRecipePage(Listed[TestedRecipeItem]):
    """Tested recipes, in the order of the collection."""

    model_config = example(items=[_TESTED_RECIPE], next_cursor=None)


class IngredientFigure(Answer):
    """One figure of an ingredient with the source it comes from, which may differ from its neighbours'."""

    low: float
    high: float | None
    source: PublishedSource

    @classmethod
    def of(cls, bounds: Bounds | None, source: Source | None) -> "IngredientFigure | None":
        """Show a figure, if it is known."""
        if bounds is None or source is None:
            return None
        shown = PublishedRange.of(bounds)
        return cls(low=shown.low, high=shown.high, source=PublishedSource.of(source))


class IngredientFormShown(Answer):
    """How an ingredient weighs when a cup is filled in this form."""

    form: str
    grams_per_cup: PublishedRange | None
    grams_per_tbsp: PublishedRange | None
    grams_per_tsp: PublishedRange | None
    grams_each: PublishedRange | None
    each: str = Field(description="what one piece is: medium, clove, pouch")
    refuse_share: float | None = Field(description="share of the weight as bought that is thrown away")
    source: PublishedSource

    @classmethod
    def of(cls, form: IngredientForm) -> "IngredientFormShown":
        """Show a form."""
        return cls(
            form=form.form,
            grams_per_cup=_range(form.grams_per_cup),
            grams_per_tbsp=_range(form.grams_per_tbsp),
            grams_per_tsp=_range(form.grams_per_tsp),
            grams_each=_range(form.grams_each),
            each=form.each,
            refuse_share=_number(form.refuse),
            source=PublishedSource.of(form.source),
        )


class IngredientItem(Answer):
    """One ingredient with what is published of it; each figure carries its own mark of evidence."""

    model_config = example(**_INGREDIENT)

    id: str
    name: str
    aliases: list[str]
    kind: str
    group: str = Field(description="our own grouping: what may stand for what")
    acidity: str
    ph: IngredientFigure | None
    soluble_solids: IngredientFigure | None = Field(description="grams per gram")
    acid_strength: IngredientFigure | None = Field(description="grams of acid per gram")
    pectin_class: str
    pectin_source: PublishedSource | None
    package: str
    notes: str
    forms: list[IngredientFormShown]
    source: PublishedSource

    @classmethod
    def of(cls, ingredient: Ingredient) -> "IngredientItem":
        """Show an ingredient."""
        sources = ingredient.sources
        pectin = sources.get("pectin_class")
        return cls(
            id=ingredient.id,
            name=ingredient.name,
            aliases=list(ingredient.aliases),
            kind=ingredient.kind,
            group=ingredient.group,
            acidity=ingredient.acidity,
            ph=IngredientFigure.of(ingredient.ph, sources.get("ph")),
            soluble_solids=IngredientFigure.of(ingredient.soluble_solids, sources.get("soluble_solids")),
            acid_strength=IngredientFigure.of(ingredient.acid_strength, sources.get("acid_strength")),
            pectin_class=ingredient.pectin_class,
            pectin_source=PublishedSource.of(pectin) if pectin else None,
            package=ingredient.package,
            notes=ingredient.notes,
            forms=[IngredientFormShown.of(form) for form in ingredient.forms],
            source=PublishedSource.of(ingredient.source),
        )


class IngredientPage(Listed[IngredientItem]):
    """Ingredients whose name or alias holds what was looked for, the closest first."""

    model_config = example(items=[_INGREDIENT], next_cursor=None)


def _number(value: Fraction | None) -> float | None:
    return None if value is None else float(value)


def _range(bounds: Bounds | None) -> PublishedRange | None:
    return None if bounds is None else PublishedRange.of(bounds)


def _ends(bounds: Bounds | None) -> tuple[float | None, float | None]:
    """An amount in the two fields of a recipe check: the upper one only where a range is printed."""
    if bounds is None:
        return None, None
    return float(bounds.low), None if bounds.exact else _number(bounds.high)

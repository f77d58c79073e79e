"""A recipe as it is sent to be checked, and the answer it gets."""

from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field

from service.checks import examples
from service.core.measures.steps import WORDS
from service.published.bodies import PublishedProcess, PublishedSource
from service.web.bodies import Answer, Body, ProblemDetails, example
from service.web.types import Flag, Length, Whole

MOST_INGREDIENTS = 200
MOST_RECIPES = 200

# Bounds that no kitchen reaches: they keep arithmetic honest, not cooks.
Title = Annotated[str, Length(1, 200)]
Word = Annotated[str, Length(1, 120)]
LineText = Annotated[str, Length(1, 500)]
Measure = Annotated[float, Field(strict=True, ge=0, le=100_000, allow_inf_nan=False)]
Inches = Annotated[float, Field(strict=True, ge=0, le=12, allow_inf_nan=False)]
Minutes = Annotated[Whole, Field(ge=0, le=1_440)]
Psi = Annotated[float, Field(strict=True, ge=0, le=100, allow_inf_nan=False)]
Fahrenheit = Annotated[float, Field(strict=True, ge=-100, le=600, allow_inf_nan=False)]
Feet = Annotated[Whole, Field(ge=-1_400, le=29_100)]
JarsOfOneSize = Annotated[Whole, Field(ge=1, le=10_000)]

STEPS = (
    "the work in its order; steps that aren't sent are taken as published. The words, some with a time as in "
    f"`boil-5-min`, `stand-8-to-10-h`: {', '.join(WORDS)}"
)
Family = Literal[
    "jam", "jelly", "preserve", "marmalade", "fruit-butter", "conserve", "fruit", "juice", "pie-filling", "tomato",
    "salsa", "pickle", "relish", "chutney", "ferment", "vegetable", "legume", "meat", "fish", "soup", "other",
]  # fmt: skip


class PerJarSent(Body):
    amount: Measure
    unit: Word
    jar: Annotated[Word, Field(description="the jar size this amount is for")]


class IngredientSent(Body):
    name: LineText
    amount: Measure | None = None
    amount_max: Measure | None = None
    unit: Word | None = None
    form: Annotated[str, Length(0, 300), Field(description="chopped, crushed, bottled, 5 percent …")] | None = None
    optional: Flag | None = False
    per_jar: PerJarSent | None = None


class JarsSent(Body):
    size: Word
    count: JarsOfOneSize


class ProcessSent(Body):
    method: Word
    minutes: Minutes | None = None
    pressure_psi: Psi | None = None


class HandlingSent(Body):
    """How the work was or will be done, where it decides safety."""

    sterile_jars: Flag | None = None
    covering_liquid: Flag | None = None
    interrupted: Flag | None = None
    restarted: Flag | None = None
    closure: Word | None = None
    storage: Word | None = None
    cooling: Word | None = None
    equipment: Annotated[str, Length(0, 300)] | None = None
    vent_minutes: Measure | None = None
    boil_minutes: Measure | None = None
    water_temp_f: Fahrenheit | None = None
    ferment_temp_f: Fahrenheit | None = None
    skipped_steps: Annotated[tuple[Word, ...], Field(max_length=100)] | None = ()


class RecipeCheckRequest(Body):
    """A recipe as its cook would write it down."""

    model_config = example(**examples.RECIPE)

    title: Title
    ingredients: Annotated[tuple[LineText | IngredientSent, ...], Field(min_length=1, max_length=MOST_INGREDIENTS)]
    family: Family | None = None
    product: Word | None = None
    steps: Annotated[tuple[Word, ...], Field(max_length=200, description=STEPS)] | None = None
    pack: Word | None = None
    headspace_in: Inches | None = None
    jars: Annotated[tuple[JarsSent, ...], Field(min_length=1, max_length=50)] | None = None
    process: ProcessSent | None = None
    altitude_ft: Annotated[Feet, Field(description="feet; needed by a caller without a token")] | None = None
    tested_recipe: Word | None = None
    handling: HandlingSent | None = None


class RecipeCheckBatch(Body):
    """Many recipes at once; each is read by itself, so that a bad one spoils no other."""

    model_config = example(recipes=[examples.RECIPE])

    recipes: Annotated[
        tuple[Any, ...],
        Field(min_length=1, max_length=MOST_RECIPES, description="each the body of a recipe check"),
    ]


class Interval(Answer):
    low: float | None
    high: float | None


class MeasuredInterval(Interval):
    unit: str


class FindingShown(Answer):
    rule: str
    area: str
    severity: str
    message: str
    fix: str
    measured: MeasuredInterval | None
    limit: MeasuredInterval | None
    where: Annotated[str | None, Field(description="a JSON pointer into the request")]
    source: PublishedSource


class FormulaIngredient(Answer):
    name: str
    as_written: str
    grams: Interval | None
    role: str
    recognised: bool


class FormulaShown(Answer):
    ingredients: list[FormulaIngredient]
    total_grams: Interval | None
    soluble_solids: Annotated[Interval | None, Field(description="grams per gram of the cold mix")]
    fruit_to_sugar: Annotated[Interval | None, Field(description="by weight")]
    prepared_fruit_cups: Interval | None


class ProcessShown(Answer):
    status: Literal["published", "none", "not-canned"]
    options: Annotated[list[PublishedProcess], Field(description="at this altitude")]


class JarsExpected(Answer):
    size: str
    count: Interval


class YieldShown(Answer):
    millilitres: Interval
    jars: list[JarsExpected]


class TestedRecipeShown(Answer):
    id: str
    title: str
    differences: list[str]


class CheckAnswer(Answer):
    """What the published figures say about one recipe."""

    verdict: Literal["ready", "revise", "untested", "unsafe"]
    family: str | None
    product: str | None
    inferred: list[str]
    findings: list[FindingShown]
    notes: list[str]
    formula: FormulaShown
    process: ProcessShown
    expected_yield: Annotated[YieldShown | None, Field(alias="yield")]
    tested_recipe: TestedRecipeShown | None
    rulebook: str
    notice: str

    model_config = ConfigDict(populate_by_name=True, serialize_by_alias=True) | example(**examples.ANSWER)


class NotChecked(Answer):
    """What kept one recipe of a batch from being checked."""

    problem: ProblemDetails


class CheckAnswers(Answer):
    """A check, or what kept it from being made, for each recipe of a batch."""

    model_config = example(results=[examples.ANSWER])

    results: Annotated[list[CheckAnswer | NotChecked], Field(description="in the order of the recipes")]

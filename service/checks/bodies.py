"""A recipe as it is sent to be checked, and the answer it gets."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

MOST_INGREDIENTS = 200
MOST_RECIPES = 200

# Bounds that no kitchen reaches: they keep arithmetic honest, not cooks.
Title = Annotated[str, Field(min_length=1, max_length=200)]
Word = Annotated[str, Field(min_length=1, max_length=120)]
LineText = Annotated[str, Field(min_length=1, max_length=500)]
AmountNumber = Annotated[float, Field(ge=0, le=100_000, allow_inf_nan=False, strict=True)]
Inches = Annotated[float, Field(ge=0, le=12, allow_inf_nan=False, strict=True)]
Minutes = Annotated[int, Field(ge=0, le=1_440, strict=True)]
MinutesOrPart = Annotated[float, Field(ge=0, le=100_000, allow_inf_nan=False, strict=True)]
Psi = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False, strict=True)]
Fahrenheit = Annotated[float, Field(ge=-100, le=600, allow_inf_nan=False, strict=True)]
Feet = Annotated[int, Field(ge=-1_400, le=29_100, strict=True)]
JarsOfOneSize = Annotated[int, Field(ge=1, le=10_000, strict=True)]
Yes = Annotated[bool, Field(strict=True)]

Family = Literal[
    "jam", "jelly", "preserve", "marmalade", "fruit-butter", "conserve", "fruit", "juice", "pie-filling", "tomato",
    "salsa", "pickle", "relish", "chutney", "ferment", "vegetable", "legume", "meat", "fish", "soup", "other",
]  # fmt: skip


class Sent(BaseModel):
    """What a caller sends: nothing unknown, nothing changed afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class PerJarSent(Sent):
    amount: AmountNumber
    unit: Word
    jar: Annotated[Word, Field(description="the jar size this amount is for")]


class IngredientSent(Sent):
    name: LineText
    amount: AmountNumber | None = None
    amount_max: AmountNumber | None = None
    unit: Word | None = None
    form: Annotated[str, Field(max_length=300, description="chopped, crushed, bottled, 5 percent …")] | None = None
    optional: Yes = False
    per_jar: PerJarSent | None = None


class JarsSent(Sent):
    size: Word
    count: JarsOfOneSize


class ProcessSent(Sent):
    method: Word
    minutes: Minutes | None = None
    pressure_psi: Psi | None = None


class HandlingSent(Sent):
    """How the work was or will be done, where it decides safety."""

    sterile_jars: Yes | None = None
    covering_liquid: Yes | None = None
    interrupted: Yes | None = None
    restarted: Yes | None = None
    closure: Word | None = None
    storage: Word | None = None
    cooling: Word | None = None
    equipment: Annotated[str, Field(max_length=300)] | None = None
    vent_minutes: MinutesOrPart | None = None
    boil_minutes: MinutesOrPart | None = None
    water_temp_f: Fahrenheit | None = None
    ferment_temp_f: Fahrenheit | None = None
    skipped_steps: Annotated[tuple[Word, ...], Field(max_length=100)] = ()


class RecipeCheckRequest(Sent):
    """A recipe as its cook would write it down."""

    title: Title
    ingredients: Annotated[tuple[LineText | IngredientSent, ...], Field(min_length=1, max_length=MOST_INGREDIENTS)]
    family: Family | None = None
    product: Word | None = None
    steps: Annotated[tuple[Word, ...], Field(max_length=200)] | None = None
    pack: Word | None = None
    headspace_in: Inches | None = None
    jars: Annotated[tuple[JarsSent, ...], Field(min_length=1, max_length=50)] | None = None
    process: ProcessSent | None = None
    altitude_ft: Annotated[Feet, Field(description="feet; needed by a caller without a token")] | None = None
    tested_recipe: Word | None = None
    handling: HandlingSent | None = None


class RecipeCheckBatch(Sent):
    recipes: Annotated[tuple[RecipeCheckRequest, ...], Field(min_length=1, max_length=MOST_RECIPES)]


class Interval(BaseModel):
    low: float | None
    high: float | None


class MeasuredInterval(Interval):
    unit: str


class SourceShown(BaseModel):
    title: str
    publisher: str
    url: str | None
    evidence: str


class FindingShown(BaseModel):
    rule: str
    area: str
    severity: str
    message: str
    fix: str
    measured: MeasuredInterval | None
    limit: MeasuredInterval | None
    where: Annotated[str | None, Field(description="a JSON pointer into the request")]
    source: SourceShown


class FormulaIngredient(BaseModel):
    name: str
    as_written: str
    grams: Interval | None
    role: str
    recognised: bool


class FormulaShown(BaseModel):
    ingredients: list[FormulaIngredient]
    total_grams: Interval | None
    soluble_solids: Annotated[Interval | None, Field(description="grams per gram of the cold mix")]
    fruit_to_sugar: Annotated[Interval | None, Field(description="by weight")]
    prepared_fruit_cups: Interval | None


class AltitudeBand(BaseModel):
    low: int
    high: int | None


class AcidPerJar(BaseModel):
    name: str
    unit: str
    amounts: Annotated[dict[str, float], Field(description="jar size: amount")]


class ProcessOption(BaseModel):
    product: str
    family: str
    pack: str
    method: str
    jar_sizes: list[str]
    altitude_band_ft: AltitudeBand
    minutes: int
    pressure_psi: int | None
    headspace_in: float | None
    sterile_jars: bool
    acid_per_jar: list[AcidPerJar] | None
    source: SourceShown


class ProcessShown(BaseModel):
    status: Literal["published", "none", "not-canned"]
    options: list[ProcessOption]


class JarsExpected(BaseModel):
    size: str
    count: Interval


class YieldShown(BaseModel):
    millilitres: Interval
    jars: list[JarsExpected]


class TestedRecipeShown(BaseModel):
    id: str
    title: str
    differences: list[str]


class CheckAnswer(BaseModel):
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

    model_config = ConfigDict(populate_by_name=True, serialize_by_alias=True)

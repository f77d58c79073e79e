"""The published figures, as the rules see them.

`service.published` reads them from its data files and hands them in; nothing here computes one. Amounts are exact
fractions, altitudes whole feet, minutes whole minutes, pressures psi on the gauge, headspace inches. Processes,
ingredients and tested recipes are told apart by identity: what is derived from one is remembered.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from service.core.measures.bounds import Bounds
from service.core.measures.terms import Term

REFRIGERATE = "refrigerate"  # the method of a row without a process


class Severity(Term):
    """How bad a finding is, worst first."""

    UNSAFE = "unsafe"
    UNTESTED = "untested"
    SPOILAGE = "spoilage"
    SET_FAILURE = "set-failure"
    QUALITY = "quality"
    PAPERWORK = "paperwork"


class Evidence(StrEnum):
    READ = "read"
    COMPUTED = "computed"
    MEMORY = "memory"
    COMMON_PRACTICE = "common-practice"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure was published, and how well it is known."""

    title: str
    publisher: str
    url: str | None
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Band:
    """Altitudes a figure holds for: whole feet, both ends included; no upper end above the last printed edge."""

    low_ft: int
    high_ft: int | None

    def holds(self, altitude_ft: int) -> bool:
        return self.low_ft <= altitude_ft and (self.high_ft is None or altitude_ft <= self.high_ft)


@dataclass(frozen=True, slots=True)
class BandFigures:
    """What one row prints for one altitude band."""

    band: Band
    minutes: int
    pressure_psi: int | None
    sterile_jars: bool
    atmospheric_steam: bool


@dataclass(frozen=True, slots=True)
class Acid:
    """One acid that may go into a jar: the amount by jar size (jar size -> amount in `unit`)."""

    name: str  # citric acid | bottled lemon juice | vinegar, 5 percent
    unit: str  # tsp | tbsp
    per_jar: dict[str, Fraction]


@dataclass(frozen=True, slots=True, eq=False)
class Process:
    """One printed process: product, pack and jar sizes in one kind of canner, for every band its table prints."""

    id: str
    product: str
    family: str
    acidity: str  # acid | acidified | low-acid
    pack: str  # hot | raw | either
    jar_sizes: tuple[str, ...]  # as printed
    method: str  # boiling-water | atmospheric-steam | pressure-dial | pressure-weighted | refrigerate
    bands: tuple[BandFigures, ...]  # lowest first; none where the food is only kept cold
    headspace_in: Fraction | None
    acid_source: str  # natural | per-jar | recipe | fermentation | none
    acids: tuple[Acid, ...]  # any one of them; empty where none is named
    starch: str | None
    covers: str  # plain-pack | formula
    notes: str
    source: Source


@dataclass(frozen=True, slots=True)
class IngredientForm:
    """How a cup of an ingredient weighs when it is filled in this form."""

    form: str
    grams_per_cup: Bounds | None
    grams_per_tbsp: Bounds | None
    grams_per_tsp: Bounds | None
    grams_each: Bounds | None
    source: Source
    each: str = ""  # what one piece is: medium, clove, pouch
    refuse: Fraction | None = None  # share of the weight as bought that is thrown away, 0 to 1


@dataclass(frozen=True, slots=True, eq=False)
class Ingredient:
    """One ingredient of the published tables, in all its forms."""

    id: str
    name: str
    aliases: tuple[str, ...]
    kind: str  # fruit, vegetable, sugar, salt, acid, pectin, thickener, spice, fat, dairy, meat, liquid or other
    group: str  # what may stand for what: tomato, pepper, lemon-juice, vinegar, leafy-green ... (our own grouping)
    acidity: str  # acid | borderline | low-acid | na
    ph: Bounds | None
    soluble_solids: Bounds | None  # grams per gram, 0 to 1
    acid_strength: Bounds | None  # grams of acid per gram, 0 to 1
    pectin_class: str
    package: str
    notes: str
    forms: tuple[IngredientForm, ...]
    source: Source
    sources: dict[str, Source] = field(default_factory=dict)  # of ph, soluble_solids, acid_strength, pectin_class


@dataclass(frozen=True, slots=True)
class TestedAlternative:
    """Another ingredient that a tested recipe allows in one's place, with its own amount."""

    name: str
    amount: Bounds | None
    unit: str | None
    form: str | None
    per_jar: "PerJarAmount | None"


@dataclass(frozen=True, slots=True)
class PerJarAmount:
    amount: Fraction
    unit: str
    jar_size: str


@dataclass(frozen=True, slots=True)
class TestedIngredient:
    name: str
    amount: Bounds | None
    unit: str | None
    form: str | None
    optional: bool
    per_jar: PerJarAmount | None
    alternatives: tuple[TestedAlternative, ...]
    line: str


@dataclass(frozen=True, slots=True, eq=False)
class TestedRecipe:
    """A published, research-tested recipe: its formula, its order of work and the processes printed for it."""

    id: str
    title: str
    family: str
    product: str | None
    pectin: str  # none | regular-powder | regular-liquid | low-sugar ...
    ingredients: tuple[TestedIngredient, ...]
    steps: tuple[str, ...]
    prepared_fruit_cups: Bounds | None
    yield_count: Bounds | None
    yield_jar: str
    jar_sizes: tuple[str, ...]
    pack: str
    headspace_in: Fraction | None
    options: tuple[Process, ...]
    amount_basis: str  # "" or what the printed amounts are for (a canner load of raw produce, say)
    notes: str
    source: Source


@dataclass(frozen=True, slots=True)
class JarSize:
    name: str
    aliases: tuple[str, ...]
    millilitres: Fraction


@dataclass(frozen=True, slots=True)
class NoProcess:
    """A food for which no process is published, and what publications offer instead."""

    id: str
    product: str
    reason: str
    instead: str
    source: Source


@dataclass(frozen=True, slots=True)
class Statement:
    """One entry of the published rule catalogue."""

    id: str
    area: str
    severity: str
    home: str  # recipe-check | batch-day | records-and-sale | advice
    says: str
    fix: str
    figures: dict[str, str]
    exceptions: tuple[str, ...]
    example_ok: str  # what a cook may do
    example_bad: str  # what it stops
    permits: bool
    skipped_for_tested_formula: bool
    source: Source


@dataclass(frozen=True, slots=True)
class BoilingPoint:
    """How hot water boils, or a jelly is done, at an altitude. Never turned into a process time."""

    altitude_ft: int
    what: str  # boiling | jelly
    fahrenheit: Fraction
    source: Source


@dataclass(frozen=True, slots=True)
class GaugeBand:
    """Altitudes at which a gauge pressure stands in the published process tables."""

    gauge: str  # dial | weighted
    pressure_psi: int
    band: Band
    source: Source


@dataclass(frozen=True, slots=True)
class CannerLoad:
    """How many jars of one size go into a canner of a usual size."""

    canner_kind: str  # boiling-water | atmospheric-steam | pressure
    canner_size: str
    jar_size: str
    jars: Bounds
    notes: str
    source: Source


@dataclass(frozen=True, slots=True)
class ProduceYield:
    """Pounds of produce, as bought, that fill one quart; where a second table differs, both are kept."""

    produce: str
    form: str
    basis: str  # what the pounds are weighed as: whole fruit, in pods, trimmed
    pounds_per_quart: Bounds | None
    pounds_per_quart_georgia: Bounds | None
    pounds_per_bushel: Fraction | None
    notes: str
    source: Source
    containers: dict[str, Bounds] = field(default_factory=dict)  # as printed: pounds in one; where tables differ, all


@dataclass(frozen=True, eq=False)  # one for the whole run: what is built from it is remembered by identity
class Facts:
    """Every published figure the rules may look up. Built once, at start."""

    rulebook: str  # edition, e.g. "2026.1"
    processes: tuple[Process, ...]
    ingredients: tuple[Ingredient, ...]
    tested_recipes: tuple[TestedRecipe, ...]
    jar_sizes: tuple[JarSize, ...]
    no_process: tuple[NoProcess, ...]
    statements: tuple[Statement, ...]
    covers: dict[str, str] = field(default_factory=dict)  # product -> plain-pack | formula
    boiling_points: tuple[BoilingPoint, ...] = ()
    gauge_bands: tuple[GaugeBand, ...] = ()
    canner_loads: tuple[CannerLoad, ...] = ()
    produce_yields: tuple[ProduceYield, ...] = ()

    def __post_init__(self) -> None:
        by_product: dict[str, list[Process]] = {}
        for process in self.processes:
            by_product.setdefault(process.product, []).append(process)
        object.__setattr__(self, "processes_of", {product: tuple(rows) for product, rows in by_product.items()})
        object.__setattr__(self, "tested_recipe", {recipe.id: recipe for recipe in self.tested_recipes})
        object.__setattr__(self, "statement", {statement.id: statement for statement in self.statements})
        object.__setattr__(self, "ingredient", {ingredient.id: ingredient for ingredient in self.ingredients})

    processes_of: dict[str, tuple[Process, ...]] = field(init=False, repr=False)
    tested_recipe: dict[str, TestedRecipe] = field(init=False, repr=False)
    statement: dict[str, Statement] = field(init=False, repr=False)
    ingredient: dict[str, Ingredient] = field(init=False, repr=False)

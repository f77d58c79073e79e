"""One recipe through the rulebook: what was understood, what was found, and the verdict."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

from service.core.measures.bounds import Bounds
from service.core.measures.jars import JAR_ML
from service.core.measures.lines import Line
from service.core.measures.values import value
from service.core.rules import formula, nearest, processes, product, yields
from service.core.rules.case import ONE_BATCH, Case, Comparison, JarCount, Part, ProcessSent, Recipe
from service.core.rules.coverage import PLAIN, changes_to_the_set, is_covered, sets_as_tested
from service.core.rules.coverage import mixtures_follow_a_tested_recipe as OWN_MIXTURE
from service.core.rules.facts import BandFigures, Facts, Process, Source, TestedRecipe
from service.core.rules.findings import Finding, Note, Rule, Severity, Verdict, worst
from service.core.rules.processes import How, Option
from service.core.rules.reading import GEL_FAMILIES
from service.core.rules.recognition import recogniser
from service.core.rules.rulebook import SELECTION

OTHER_PACK = {"hot": "raw", "raw": "hot"}
COLD = {"refrigerate": "refrigerator", "freeze": "freezer"}
GELLED = frozenset(["jam", "jelly", "preserve", "marmalade", "conserve", "fruit-butter"])
SET_AREAS = frozenset({"sugar-and-pectin", "batch-size"})
WORST_FIRST = {severity: place for place, severity in enumerate(Severity)}
MOST_CHOICES = 16  # each is judged as a recipe of its own


# Only these words keep food cold: any other place ("beside the refrigerator") is judged as a shelf.
COLD_PLACES = {
    "refrigerator": "refrigerator",
    "refrigerated": "refrigerator",
    "refrigerate": "refrigerator",
    "fridge": "refrigerator",
    "freezer": "freezer",
    "frozen": "freezer",
    "freeze": "freezer",
}


@value(frozen=True, slots=True)
class Judged:
    """A finding, with the rule it comes from."""

    rule: Rule
    finding: Finding
    severity: Severity
    area: str
    source: Source


@value(frozen=True, slots=True)
class Check:
    """Everything a caller is told about one recipe."""

    verdict: Verdict
    case: Case
    findings: tuple[Judged, ...]
    notes: tuple[str, ...]
    status: str  # published | none | not-canned
    options: tuple[Option, ...]  # at this altitude
    rulebook: str


def check(recipe: Recipe, facts: Facts) -> Check:
    """Judge one recipe by every rule, and again with each ingredient that the cook would also take."""
    choices = list(_choices(recipe))
    told: formula.Told | None = {} if choices else None
    case = understood(recipe, facts, told)
    found, notes = _found(case, facts)
    said = {(judged.rule.id, judged.finding.message) for judged in found}
    for name, other in choices[:MOST_CHOICES]:
        for judged in _found(understood(other, facts, told), facts)[0]:
            finding = judged.finding
            if (judged.rule.id, finding.message) not in said:
                found.append(replace(judged, finding=replace(finding, message=f"With {name}: {finding.message}")))
    if len(choices) > MOST_CHOICES:
        found.append(
            _judged(OWN_MIXTURE, Finding("So many choices can't all be judged.", "Write what you take."), facts)
        )
    found.sort(key=lambda judged: WORST_FIRST[judged.severity])
    covered = is_covered(case)
    return Check(
        verdict=worst([judged.severity for judged in found]),
        case=case,
        findings=tuple(found),
        notes=tuple(dict.fromkeys(notes)),
        status="not-canned" if not case.on_the_shelf else "published" if covered and case.options else "none",
        options=_options_at(case.options, max(case.altitude_ft, 0)) if covered and case.on_the_shelf else (),
        rulebook=facts.rulebook,
    )


def _choices(recipe: Recipe) -> Iterator[tuple[str, Recipe]]:
    """The recipe with each of the alternatives on its lines in turn, by the name of what is taken."""
    for place, line in enumerate(recipe.lines):
        if isinstance(line, Line):
            for other in line.alternatives:
                lines = (*recipe.lines[:place], replace(other, more=line.more), *recipe.lines[place + 1 :])
                yield other.as_written, replace(recipe, lines=lines)


def _found(case: Case, facts: Facts) -> tuple[list[Judged], list[str]]:
    found: list[Judged] = []
    notes: list[str] = []
    as_tested = sets_as_tested(case)
    for rule in SELECTION.of(case):
        if rule.skipped_for_tested_formula and as_tested:
            continue
        for said in rule.judge(case):
            if isinstance(said, Note):
                notes.append(said.message)
            else:
                found.append(_judged(rule, said, facts))
    if not any(judged.area in SET_AREAS and judged.severity is not Severity.PAPERWORK for judged in found):
        found += [_judged(OWN_MIXTURE, said, facts) for said in changes_to_the_set(case)]
    return found, notes


def _judged(rule: Rule, finding: Finding, facts: Facts) -> Judged:
    statement = facts.statement[rule.id]
    return Judged(rule, finding, finding.severity or rule.severity, statement.area, statement.source)


@lru_cache(maxsize=1024)
def _options_at(options: tuple[Process, ...], altitude_ft: int) -> tuple[Option, ...]:
    """The published processes at this altitude, the steam canner's among them."""
    here = [(row, processes.at(row, altitude_ft)) for row in options]
    return tuple([Option(row, figures, How.PRINTED) for row, figures in here if figures is not None])


# Understanding


def understood(recipe: Recipe, facts: Facts, told: formula.Told | None = None) -> Case:
    """The recipe with everything that wasn't sent taken from the tested recipe or the published rows.

    `told` holds lines of another version of this recipe, as they were understood there.
    """
    known = recogniser(facts)
    parts = formula.parts(recipe.lines, recipe.jars, known, told)
    tested = nearest.compare(recipe, parts, facts)
    jars = recipe.jars
    if jars is None and tested is not None:
        jars = _jars_of(tested, parts)
        recipe_with_jars = replace(recipe, jars=jars)
        parts = formula.parts(recipe.lines, jars, known, told)
        tested = nearest.with_jars(tested, recipe_with_jars, parts, facts)
    family = product.family_of(recipe, parts, tested)
    made = product.product_of(recipe, parts, tested, family, facts)
    if tested is not None and not tested.named and tested.recipe.product not in (None, made):
        tested = nearest.compare(replace(recipe, product=made, jars=jars), parts, facts)
    every_row = _rows(made, tested.recipe if tested is not None else None, facts)
    storage = _storage(recipe, every_row)
    if storage != "shelf" and tested is not None and not (tested.named or tested.same_formula or _kept_cold(tested)):
        tested = None  # what is kept cold follows recipes of its own
    pack = recipe.pack or _pack(recipe, tested, every_row)
    options = _packed(every_row, pack)
    process = recipe.process or (_process(options, jars or (), recipe.altitude_ft) if storage == "shelf" else None)
    headspace = recipe.headspace_in if recipe.headspace_in is not None else _headspace(tested, options, process)
    steps = recipe.steps if recipe.steps is not None else tested.recipe.steps if tested is not None else ()
    taken = (
        ("family", recipe.family, family),
        ("product", recipe.product, made),
        ("process", recipe.process, process),
        ("jars", recipe.jars, jars),
        ("pack", recipe.pack, pack),
        ("headspace_in", recipe.headspace_in, headspace),
        ("steps", recipe.steps, steps or None),
    )
    pot = formula.Pot(parts)
    expected = _expected(family, tested, pot)
    return Case(
        recipe=recipe,
        facts=facts,
        parts=parts,
        family=family,
        product=made,
        inferred=tuple([name for name, sent, found in taken if sent is None and found is not None]),
        tested=tested,
        pack=pack,
        headspace_in=headspace,
        steps=steps,
        jars=jars or (),
        process=process,
        options=options,
        storage=storage,
        jars_millilitres=formula.jars_millilitres(jars or ()) or expected,
        yield_millilitres=expected,
        pot=pot,
    )


def _jars_of(tested: Comparison, parts: Sequence[Part]) -> tuple[JarCount, ...] | None:
    """The jars of the tested yield; where none is printed, as many as a spread fills when it is boiled down.

    Of other food, a few jars of the printed size: the time rests on the size alone.
    """
    printed = tested.recipe.yield_count
    if printed is None:
        filled = _expected(tested.recipe.family, None, formula.Pot(parts))
        by_the_jar = any(option.acid_source == "per-jar" for option in tested.recipe.options)
        untold = (
            0 if by_the_jar else nearest.SMALL_BATCH_JARS
        )  # where acid goes by the jar, their number is never made up
        count = untold if filled is None else int(filled.low / JAR_ML[tested.recipe.yield_jar])
    else:
        count = int(printed.low * tested.scale.low)
    return (JarCount(tested.recipe.yield_jar, count),) if count else None


@lru_cache(maxsize=4096)
def _rows(made: str | None, tested: TestedRecipe | None, facts: Facts) -> tuple[Process, ...]:
    """What the tested recipe prints for itself alone, the product's rows for other jars, and steam in their place."""
    printed = list(facts.processes_of.get(made or "", ()))
    if tested is not None and tested.product in (None, made):
        seen = {_figures_of(row) for row in printed}
        own = [option for option in tested.options if _figures_of(option) not in seen]
        governed = {(row.method, size) for row in own for size in row.jar_sizes}
        left = [
            replace(row, jar_sizes=sizes)
            for row in printed
            if (sizes := tuple(size for size in row.jar_sizes if (row.method, size) not in governed))
        ]
        if facts.covers.get(made or "") == PLAIN:  # no recipe narrows the packs that are printed for the food itself
            packs = {(row.method, size): row.pack for row in own for size in row.jar_sizes}
            left += [
                replace(row, pack=OTHER_PACK[pack], jar_sizes=(size,))
                for row in printed
                for size in row.jar_sizes
                if row.pack == "either" and (pack := packs.get((row.method, size), "")) in OTHER_PACK
            ]
        printed = [*own, *left]
    steam = [derived for row in printed if (derived := processes.steam(row)) is not None]
    return (*printed, *steam)


@lru_cache(maxsize=4096)
def _packed(every_row: tuple[Process, ...], pack: str | None) -> tuple[Process, ...]:
    return tuple([row for row in every_row if pack is None or row.pack in (pack, "either")])


def _figures_of(row: Process) -> tuple[object, ...]:
    return row.method, row.pack, frozenset(row.jar_sizes), tuple((b.band, b.minutes, b.pressure_psi) for b in row.bands)


def _kept_cold(tested: Comparison) -> bool:
    return all(option.method in COLD for option in tested.recipe.options)


def _storage(recipe: Recipe, every_row: Sequence[Process]) -> str:
    if recipe.handling.storage:
        return COLD_PLACES.get(recipe.handling.storage.strip().lower(), "shelf")
    if recipe.process is not None:
        return COLD.get(recipe.process.method, "shelf")
    if every_row and all(row.method in COLD for row in every_row):
        return COLD[every_row[0].method]
    return "shelf"


def _pack(recipe: Recipe, tested: Comparison | None, every_row: Sequence[Process]) -> str | None:
    """What the steps say, else the tested recipe, else the rows where they print only one."""
    packs = {row.pack for row in every_row} - {"either"}
    if recipe.steps is not None and packs:
        said = {word for step, word in (("pack", "raw"), ("fill", "hot")) if step in recipe.steps} & packs
        if len(said) == 1:
            return said.pop()
    if tested is not None:
        return tested.recipe.pack
    return packs.pop() if len(packs) == 1 else None


def _process(options: Sequence[Process], jars: Sequence[JarCount], altitude_ft: int) -> ProcessSent | None:
    """The first printed process that serves every declared jar at this altitude: the longest time of any pack."""
    one_pack = len({row.pack for row in options} - {"either"}) <= 1
    for method in dict.fromkeys(row.method for row in options):
        served: list[BandFigures] = []
        for size in {jar.size for jar in jars} or {options[0].jar_sizes[0]}:
            figures = [
                found
                for row in options
                if row.method == method and size in row.jar_sizes and (found := processes.at(row, max(altitude_ft, 0)))
            ]
            if not figures:
                break
            served.append(figures[0] if one_pack else max(figures, key=lambda found: found.minutes))
        else:
            longest = max(served, key=lambda found: found.minutes)
            psi = max((found.pressure_psi for found in served if found.pressure_psi is not None), default=None)
            return ProcessSent(method, longest.minutes, psi)
    return None


def _headspace(tested: Comparison | None, options: Sequence[Process], process: ProcessSent | None) -> float | None:
    printed = tested.recipe.headspace_in if tested is not None else None
    for row in options:
        if printed is None and (process is None or row.method == process.method):
            printed = row.headspace_in
    return None if printed is None else float(printed)


@lru_cache(maxsize=1024)
def _printed_millilitres(tested: TestedRecipe) -> Bounds | None:
    """What one batch fills, where that is printed."""
    return None if tested.yield_count is None else tested.yield_count * JAR_ML[tested.yield_jar]


def _expected(family: str | None, tested: Comparison | None, pot: formula.Pot) -> Bounds | None:
    """What the pot should fill: as printed for the tested formula, else by its solids where it boils down to a gel."""
    if tested is not None and not tested.differences and not tested.recipe.amount_basis:
        printed = _printed_millilitres(tested.recipe)
        if printed is not None:
            return printed if tested.scale is ONE_BATCH else printed * tested.scale
    if family not in GEL_FAMILIES or pot.total_grams is None or pot.soluble_solids is None:
        return None
    done = yields.DONE_BUTTER if family == "fruit-butter" else yields.DONE_SPREAD
    return yields.spread_millilitres(pot.total_grams, pot.soluble_solids, done)

"""Whether the jars get the heat that was published for them: time, pack, canner, and an unbroken run."""

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache

from service.core.measures.bounds import Bounds
from service.core.rules.case import AnyFood, Case, Role
from service.core.rules.facts import Process
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.printed import (
    BOILING,
    CANNERS,
    COLD,
    METHODS,
    PASTEURIZATION,
    PRESSURE,
    Fault,
    any_rows,
    judged,
)
from service.core.rules.product import packs_of
from service.core.rules.reading import GEL_FAMILIES, mentions, said, saying, step_named
from service.core.rules.scope import OtherThan, Scope

CLEAN_JAR_MINUTES = 10
FOUR_BANDS = 4
JAM_MINUTES = ((0, 5), (1001, 10), (6001, 15))  # from this altitude in feet: minutes in half-pints and pints
VENT_MINUTES = 10
PASTEURIZATION_F = Bounds(Fraction(180), Fraction(185))
PASTEURIZATION_MINUTES = 30
BOILS_NOWHERE_BELOW_F = 190  # water boils above this up to 11,000 ft, higher than any kitchen here
MIXED_VEGETABLE_MINUTES = {"pint": 75, "quart": 90}
SOUP_MINUTES = {"pint": 60, "quart": 75}
SEAFOOD_SOUP_MINUTES = 100
FISH_MINUTES = {"pint": 100, "quart": 160}
SMOKED_FISH_CANNER_QUARTS = 16
KRAUT_DAYS_MIN = 21  # three weeks at 70 to 75 F: Complete Guide to Home Canning, Guide 6 p. 6-8, from memory

LOW_ACID_FAMILIES = frozenset({"vegetable", "legume", "meat", "fish", "soup"})
LOW_ACID_ROLES = (Role.VEGETABLE, Role.LEGUME, Role.MEAT, Role.FISH, Role.GRAIN, Role.DAIRY, Role.EGG)
MEAT_FAMILIES = frozenset({"meat", "fish", "soup"})
MEAT_PRODUCTS = frozenset({"spaghetti-sauce-with-meat", "mincemeat-pie-filling", "chile-con-carne", "baked-beans"})
DRY_TESTED = frozenset(
    {"tomatoes-crushed", "tomatoes-whole-no-added-liquid", "smoked-fish", "fish-fatty-except-tuna", "fish-quart"}
)
NOT_IN_MIXED_VEGETABLES = (
    "spinach", "kale", "chard", "collard", "greens", "leafy", "amaranth",
    "dry bean", "dry", "dried", "cream-style", "cream style", "winter squash", "pumpkin", "butternut", "acorn squash",
    "sweet potato",
)  # fmt: skip

OPEN_KETTLE = ("open-kettle", "open kettle", "none", "no", "unprocessed", "not processed", "hot fill", "hot-fill")
OTHER_HEAT = ("oven", "microwave", "dishwasher", "slow-cooker", "slow cooker", "crock-pot", "air-fryer", "air fryer",
              "sun", "solar", "grill", "smoker", "bake", "baking")  # fmt: skip
INVERTED = ("invert", "inverted", "inversion", "upside", "upside-down")
PRESERVING_POWDERS = ("aspirin", "salicylic", "canning powder", "canning tablet", "tomato tablet", "preserving powder")
REST = ("natural", "unaided", "room", "towel", "rack", "undisturbed", "counter")
DRY_PACKED = ("dry-pack", "dry pack")
DRY_FORMS = ("dry", "dried")
WET_FORMS = ("soaked", "cooked", "boiled", "canned", "rehydrated", "drained", "fresh", "green")


def minutes(value: int) -> Measured:
    return Measured(Bounds.exactly(value), "minutes")


def at_least(value: int, unit: str = "minutes") -> Measured:
    return Measured(Bounds(Fraction(value), None), unit)


@lru_cache(maxsize=64)
def low_acid(case: Case) -> bool:
    """Whether the food needs a pressure canner: by its published rows, else by what is in it.

    A recipe of its own making with acid in it is not called low-acid; nothing published covers it all the same.
    """
    if case.of(Role.MEAT, Role.FISH):
        return True
    published = any_rows(case)
    if published:
        return _is_low_acid_in_print(published)
    if case.family in LOW_ACID_FAMILIES:
        return True
    return not case.of(Role.ACID) and any(
        part.role in LOW_ACID_ROLES and (part.ingredient is None or part.ingredient.acidity != "acid")
        for part in case.parts
        if not part.optional
    )


@lru_cache(maxsize=1024)
def _is_low_acid_in_print(published: tuple[Process, ...]) -> bool:
    return any(row.acidity == "low-acid" for row in published)


def processed(case: Case) -> bool:
    """Whether jars for the shelf go through some process that this module has to judge."""
    return case.on_the_shelf and case.process is not None


@rule(
    "low-acid-never-boiling",
    "Low-acid food is pressure canned; boiling water and steam never reach the heat it needs.",
    Severity.UNSAFE,
    scope=Scope(methods=OtherThan(PRESSURE)),
)
def low_acid_food_is_pressure_canned(case: Case) -> Iterator[Finding | Note]:
    if processed(case) and case.method not in PRESSURE and low_acid(case):
        yield Finding(
            message="This food is low in acid, and only a pressure canner makes it safe at any length of time.",
            fix="Use the published pressure process, or freeze or refrigerate the food.",
            where="#/process/method",
        )


@rule(
    "open-kettle-bar",
    "Jars filled hot and lidded without a timed process don't go on a shelf.",
    Severity.UNSAFE,
    scope=Scope(methods=OtherThan(CANNERS)),
)
def jars_get_a_timed_process(case: Case) -> Iterator[Finding | Note]:
    if not processed(case):
        return
    method = case.method or ""
    if method in COLD or not method or mentions(method, *OPEN_KETTLE, *INVERTED):
        yield Finding(
            message="These jars go on a shelf without a timed process. A lid that pulls down proves nothing.",
            fix="Process the jars in a canner by the published time, or keep them in the refrigerator.",
            where="#/process/method",
        )


@rule(
    "inversion-bar",
    "Turning filled jars upside down is no process.",
    Severity.SPOILAGE,
    scope=Scope(in_own_words=True) | Scope(in_steps=INVERTED),
)
def jars_stay_upright(case: Case) -> Iterator[Finding | Note]:
    handling = case.handling
    texts = (case.method, handling.cooling, handling.closure, handling.equipment, *case.steps)
    if case.on_the_shelf and mentions("\n".join(filter(None, texts)), *INVERTED):
        yield Finding(
            message="Turning jars upside down neither heats the food nor helps the seal.",
            fix="Keep the jars upright and give them the timed process.",
        )


@rule(
    "oven-and-other-heat-bar",
    "Ovens, microwaves, dishwashers, slow cookers and the sun are no canners.",
    Severity.UNSAFE,
    scope=Scope(in_own_words=True),
)
def only_canners_process_jars(case: Case) -> Iterator[Finding | Note]:
    if not processed(case):
        return
    method = case.method or ""
    known = method in METHODS or not method or mentions(method, *OPEN_KETTLE, *INVERTED, "vacuum", "pressure", "cooker")
    if mentions(method, *OTHER_HEAT) or mentions(case.handling.equipment or "", *OTHER_HEAT):
        yield Finding(
            message="Heat from an oven, microwave, dishwasher, slow cooker or the sun doesn't process jars safely.",
            fix="Use a boiling-water, steam or pressure canner with the published time.",
            where="#/process/method",
        )
    elif not known:
        yield Finding(
            message="This is no way of processing jars that anybody has published.",
            fix="Use a boiling-water, steam or pressure canner with the published time.",
            where="#/process/method",
        )


@rule(
    "process-time-floor",
    "The process is at least as long as published for the food, pack, jar and altitude.",
    Severity.UNSAFE,
)
def process_is_long_enough(case: Case) -> Iterator[Finding | Note]:
    if case.on_the_shelf and case.process is None and any_rows(case):
        yield Finding(
            message="How the jars are processed isn't said.",
            fix="Name the canner, the minutes and, under pressure, the pounds.",
            where="#/process",
            severity=Severity.UNTESTED,
        )
    sent = case.process.minutes if case.process else None
    for answer in judged(case):
        if answer.fault is Fault.NO_ROW and not (case.method in BOILING and low_acid(case)):
            yield Finding(
                message="No time is published for this food in this kind of canner.",
                fix="Use a canner that the published process names, or keep the food cold.",
                where="#/process/method",
                severity=Severity.UNTESTED,
            )
        figures = answer.figures
        if figures is None:
            continue
        if answer.fault is Fault.UNSAID:
            yield Finding(
                message=f"How long the {answer.jar_size} jars are processed isn't said.",
                fix=f"Process them {figures.minutes} minutes.",
                where="#/process/minutes",
                limit=at_least(figures.minutes),
            )
        elif answer.fault is Fault.MINUTES or (answer.fault is Fault.BAND and not four_bands(answer.row)):
            assert sent is not None
            yield Finding(
                message=f"{sent} minutes are too short for {answer.jar_size} jars here.",
                fix=f"Process them {figures.minutes} minutes.",
                where="#/process/minutes",
                measured=minutes(sent),
                limit=at_least(figures.minutes),
            )
        elif case.recipe.process is not None and answer.fault is None and sent is not None and sent > figures.minutes:
            yield Note(
                f"{sent} minutes are longer than the {figures.minutes} published for {answer.jar_size} jars: "
                "safe, but the food gets softer."
            )


def four_bands(row: Process | None) -> bool:
    """Whether the row steps at 3,000 ft too, as fruit and tomato tables do; jelly and most pickles take two steps."""
    return row is not None and len(row.bands) == FOUR_BANDS


@rule(
    "pack-style-match",
    "Raw and hot pack have times of their own.",
    Severity.UNSAFE,
    scope=Scope(faults=frozenset({Fault.PACK})),
)
def time_belongs_to_the_pack(case: Case) -> Iterator[Finding | Note]:
    for answer in judged(case):
        if answer.fault is not Fault.PACK:
            continue
        if case.pack is None:
            message, fix = "Whether the jars are packed raw or hot isn't said, and the times differ.", "Name the pack."
        elif answer.figures is None:
            message = f"No {case.pack} pack is published for this food in this canner."
            fix = "Pack the jars as the published process says."
        else:
            message = f"This time is published for another pack; {case.pack} pack needs longer."
            fix = f"Process {answer.jar_size} jars {answer.figures.minutes} minutes, or change the pack."
        limit = at_least(answer.figures.minutes) if answer.figures else None
        yield Finding(message=message, fix=fix, where="#/pack", limit=limit)


@rule(
    "jar-sterilise-under-ten",
    "Jars that boil less than 10 minutes are sterilised first.",
    Severity.SPOILAGE,
    scope=Scope(methods=BOILING, handled=("sterile_jars",)),
)
def short_processes_start_with_sterile_jars(case: Case) -> Iterator[Finding | Note]:
    sent = case.process.minutes if case.process else None
    if not case.on_the_shelf or case.method not in BOILING or sent is None or sent >= CLEAN_JAR_MINUTES:
        return
    if case.handling.sterile_jars is False:
        yield Finding(
            message=f"{sent} minutes don't sterilise the jars, and they weren't sterile when they were filled.",
            fix="Boil the empty jars 10 minutes (1 more for each 1,000 ft above 1,000), or process 10 minutes.",
            where="#/handling/sterile_jars",
            measured=minutes(sent),
            limit=at_least(CLEAN_JAR_MINUTES),
        )


@rule(
    "jelly-process-time",
    "Jam and jelly without a row of their own are processed 5, 10 or 15 minutes by altitude.",
    Severity.SPOILAGE,
    scope=Scope(families=GEL_FAMILIES, methods=BOILING),
)
def jam_is_processed(case: Case) -> Iterator[Finding | Note]:
    if not processed(case) or case.family not in GEL_FAMILIES or any_rows(case) or case.method not in BOILING:
        return
    assert case.process is not None
    sent, needed = case.process.minutes, jam_minutes(case.altitude_ft)
    if sent is None or sent < JAM_MINUTES[0][1]:
        yield Finding(
            message="Jam and jelly are processed in boiling water, for the minutes of the kitchen's altitude.",
            fix=f"Process half-pints and pints {needed} minutes.",
            where="#/process/minutes",
            measured=None if sent is None else minutes(sent),
            limit=at_least(needed),
        )


def jam_minutes(altitude_ft: int) -> int:
    return [needed for from_ft, needed in JAM_MINUTES if from_ft <= max(altitude_ft, 0)][-1]


def _is_preserving_powder(part: AnyFood) -> bool:
    return said(part, *PRESERVING_POWDERS)


@rule(
    "canning-powder-not-a-process",
    "Aspirin and preserving powders replace neither heat nor acid.",
    Severity.SPOILAGE,
    scope=Scope(kinds=(_is_preserving_powder,)),
)
def powders_do_not_replace_heat(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(_is_preserving_powder):
        yield Finding(
            message="Aspirin and powders sold for preserving keep nothing by themselves.",
            fix="Leave it out and run the full published process.",
            where=part.where,
        )


def _is_kept_dry(part: AnyFood) -> bool:
    return part.role in (Role.GRAIN, Role.NUT) or said(part, "flour")


@rule(
    "dry-canning-bar",
    "Vegetables are canned covered with liquid, and dry goods aren't canned.",
    Severity.UNSAFE,
    scope=Scope(handled=("covering_liquid",)) | Scope(in_steps=DRY_PACKED) | Scope(kinds=(_is_kept_dry,)),
)
def food_is_covered_with_liquid(case: Case) -> Iterator[Finding | Note]:
    dry = case.handling.covering_liquid is False or mentions("\n".join(case.steps), *DRY_PACKED)
    tested_dry = case.product in DRY_TESTED or (
        case.pack == "raw" and bool(case.of(Role.MEAT, Role.FISH)) and not case.of(Role.VEGETABLE, Role.LEGUME)
    )
    if case.on_the_shelf and dry and not tested_dry and (low_acid(case) or case.of(Role.TOMATO)):
        yield Finding(
            message="Without liquid over it, this food heats far more slowly than when the process was tested.",
            fix="Cover the food with boiling water or its cooking liquid, as published.",
            where="#/handling/covering_liquid",
        )
    if processed(case) and case.parts and all(map(_is_kept_dry, case.parts)):
        yield Finding(
            message="Flour, grain and nuts aren't canned: heating them in sealed jars makes them no safer.",
            fix="Store dry goods unheated in airtight jars.",
            where="#/process/method",
        )


@rule(
    "boil-break-restart",
    "When the boil stops, the time starts again from zero.",
    Severity.UNSAFE,
    scope=Scope(methods=OtherThan(PRESSURE), handled=("interrupted",)),
)
def a_broken_boil_starts_again(case: Case) -> Iterator[Finding | Note]:
    if processed(case) and case.method not in PRESSURE and case.handling.interrupted and not case.handling.restarted:
        yield Finding(
            message="The boil stopped during the process, and the time wasn't started again.",
            fix="Bring the water back to a full boil and run the whole time again.",
            where="#/handling/interrupted",
        )


@rule(
    "pressure-drop-restart",
    "When the pressure falls, the time starts again from zero.",
    Severity.UNSAFE,
    scope=Scope(methods=PRESSURE, handled=("interrupted",)),
)
def a_pressure_drop_starts_again(case: Case) -> Iterator[Finding | Note]:
    if processed(case) and case.method in PRESSURE and case.handling.interrupted and not case.handling.restarted:
        yield Finding(
            message="The pressure fell during the process, and the time wasn't started again.",
            fix="Bring the canner back to pressure and run the whole time again from zero.",
            where="#/handling/interrupted",
        )


@rule(
    "vent-ten-minutes",
    "A pressure canner is vented 10 minutes before it is closed.",
    Severity.UNSAFE,
    scope=Scope(methods=PRESSURE, handled=("vent_minutes", "skipped_steps")),
)
def pressure_canners_are_vented(case: Case) -> Iterator[Finding | Note]:
    vented = case.handling.vent_minutes
    skipped = any(mentions(step, "vent", "venting") for step in case.handling.skipped_steps)
    if not processed(case) or case.method not in PRESSURE:
        return
    if skipped or (vented is not None and vented < VENT_MINUTES):
        yield Finding(
            message="Air left in the canner keeps it cooler than its gauge says.",
            fix="Release the pressure, vent 10 minutes and start the process over.",
            where="#/handling/vent_minutes",
            measured=None if vented is None else Measured(Bounds.exactly(Fraction(str(vented))), "minutes"),
            limit=at_least(VENT_MINUTES),
        )


@rule(
    "natural-depressurise",
    "A pressure canner cools by itself.",
    Severity.UNSAFE,
    scope=Scope(methods=PRESSURE, handled=("cooling",)),
)
def pressure_canners_cool_by_themselves(case: Case) -> Iterator[Finding | Note]:
    cooling = case.handling.cooling
    if processed(case) and case.method in PRESSURE and cooling is not None and not mentions(cooling, *REST):
        yield Finding(
            message="The slow cooling is part of the tested process; forced, it leaves the food under-processed.",
            fix="Treat the load as under-processed: process it again within 24 hours, or freeze it.",
            where="#/handling/cooling",
        )


@rule(
    "low-temp-pasteurise-listed-only",
    "180 to 185 F for 30 minutes is for the pickles whose published process names it.",
    Severity.SPOILAGE,
    scope=Scope(methods=(PASTEURIZATION,)) | Scope(methods=BOILING, handled=("water_temp_f",)),
)
def low_heat_is_for_listed_pickles(case: Case) -> Iterator[Finding | Note]:
    held_f = case.handling.water_temp_f
    lukewarm = case.method in BOILING and held_f is not None and held_f < BOILS_NOWHERE_BELOW_F
    if not processed(case) or not (case.method == PASTEURIZATION or lukewarm):
        return
    assert case.process is not None
    if not any("pasteuri" in row.notes.lower() for row in any_rows(case)):
        yield Finding(
            message="Water below boiling is published for a few pickles only, and this isn't one of them.",
            fix="Use the published boiling-water time.",
            where="#/process/method",
        )
        return
    if held_f is not None and not PASTEURIZATION_F.contains(Fraction(str(held_f))):
        yield Finding(
            message="The water has to stay between 180 and 185 F, by a thermometer.",
            fix="Hold 180 to 185 F for 30 minutes without a break, or use the boiling-water time.",
            where="#/handling/water_temp_f",
            measured=Measured(Bounds.exactly(Fraction(str(held_f))), "F"),
            limit=Measured(PASTEURIZATION_F, "F"),
        )
    sent = case.process.minutes
    if sent is None or sent < PASTEURIZATION_MINUTES:
        yield Finding(
            message="At 180 to 185 F the jars need 30 minutes.",
            fix="Hold them 30 minutes.",
            where="#/process/minutes",
            measured=None if sent is None else minutes(sent),
            limit=at_least(PASTEURIZATION_MINUTES),
        )


@rule(
    "mixed-vegetable-process",
    "Mixed vegetables take 75 minutes in pints and 90 in quarts, without greens, dry beans, squash or sweet potato.",
    Severity.UNSAFE,
    scope=Scope(products=("mixed-vegetables",), roles=(Role.VEGETABLE, Role.LEGUME))
    | Scope(families=("vegetable",), roles=(Role.VEGETABLE, Role.LEGUME)),
)
def mixed_vegetables_take_the_longest_time(case: Case) -> Iterator[Finding | Note]:
    vegetables = case.of(Role.VEGETABLE, Role.LEGUME)
    mixed = case.product == "mixed-vegetables"
    if not case.on_the_shelf or not (mixed or (case.family == "vegetable" and len(vegetables) > 1)):
        return
    if mixed:
        for part in vegetables:
            if said(part, *NOT_IN_MIXED_VEGETABLES):
                yield Finding(
                    message="Greens, dry beans, cream-style corn, squash and sweet potatoes stay out of the mix.",
                    fix="Take it out, or can it alone by its own process.",
                    where=part.where,
                )
    elif not any_rows(case):
        yield from _too_short(
            case, MIXED_VEGETABLE_MINUTES, "Mixed vegetables take the longest time of any among them."
        )


def _too_short(case: Case, needed_by_size: dict[str, int], message: str) -> Iterator[Finding]:
    """One finding where the time is below the pint's, or below the quart's with anything larger than a pint."""
    small = all(jar.size in ("quarter-pint", "half-pint", "twelve-ounce", "pint") for jar in case.jars)
    needed = needed_by_size["pint" if case.jars and small else "quart"]
    sent = case.process.minutes if case.process else None
    if case.method in PRESSURE and (sent is None or sent < needed):
        yield Finding(
            message=message,
            fix=f"Process at least {needed} minutes under pressure.",
            where="#/process/minutes",
            measured=None if sent is None else minutes(sent),
            limit=at_least(needed),
        )


@rule(
    "soup-process",
    "Soup takes 60 minutes in pints and 75 in quarts; with seafood 100.",
    Severity.UNSAFE,
    scope=Scope(families=("soup",)),
)
def soup_takes_the_soup_time(case: Case) -> Iterator[Finding | Note]:
    if not case.on_the_shelf or case.family != "soup":
        return
    if case.of(Role.FISH):
        seafood = {"pint": SEAFOOD_SOUP_MINUTES, "quart": SEAFOOD_SOUP_MINUTES}
        yield from _too_short(case, seafood, "Soup with any seafood in it takes 100 minutes.")
    elif not any_rows(case):
        yield from _too_short(case, SOUP_MINUTES, "Soup takes the published soup time.")


@rule(
    "dry-beans-rehydrated",
    "Dry beans and peas are soaked and boiled before they are packed.",
    Severity.UNSAFE,
    scope=Scope(roles=(Role.LEGUME,)),
)
def dry_beans_are_soaked(case: Case) -> Iterator[Finding | Note]:
    if not case.of(Role.LEGUME):
        return
    soaked = step_named(case, "soak")
    skipped = any(mentions(step, "soak", "soaking") for step in case.handling.skipped_steps)
    for part in case.of(Role.LEGUME):
        dry = said(part, *DRY_FORMS) or case.product == "dried-beans-or-peas"
        wet = (said(part, *WET_FORMS) or soaked) and not said(part, "unsoaked", "not soaked", "without soaking")
        if case.on_the_shelf and dry and (skipped or not wet):
            yield Finding(
                message="Dry beans swell in the jar and leave no room for heat to pass.",
                fix="Soak them (boil 2 minutes and stand 1 hour, or overnight), boil them, and pack them hot.",
                where=part.where,
            )


@rule(
    "meat-only-if-tested",
    "Meat, poultry and fish are canned only in recipes tested with them.",
    Severity.UNSAFE,
    scope=Scope(roles=(Role.MEAT, Role.FISH)),
)
def meat_is_part_of_what_was_tested(case: Case) -> Iterator[Finding | Note]:
    if not case.on_the_shelf or not case.of(Role.MEAT, Role.FISH):
        return
    families = {row.family for row in any_rows(case)}
    meaty = bool(families & MEAT_FAMILIES) or case.product in MEAT_PRODUCTS
    tested = case.tested is not None and any(part.role in (Role.MEAT, Role.FISH) for part in case.tested.parts)
    which_is_asked = case.product is None and _plain_meat(case) and packs_of(case.parts, case.facts)
    for part in case.of(Role.MEAT, Role.FISH):
        if not (meaty or tested or which_is_asked):
            yield Finding(
                message=f"No tested recipe of this kind has {part.name} in it.",
                fix="Leave it out and add it when the jar is opened and heated.",
                where=part.where,
            )


def _plain_meat(case: Case) -> bool:
    """Nothing but meat, its broth, water, salt and dry spice."""
    plain = (Role.MEAT, Role.FISH, Role.SALT, Role.SPICE)
    return all(part.role in plain or part.group in ("water", "broth") for part in case.parts)


@rule(
    "fish-limits",
    "Fish takes 100 minutes in pints; smoked fish a canner of 16 quarts or more.",
    Severity.UNSAFE,
    scope=Scope(roles=(Role.FISH,)),
)
def fish_takes_the_fish_time(case: Case) -> Iterator[Finding | Note]:
    fish = case.of(Role.FISH)
    if not case.on_the_shelf or not fish or case.family == "soup":
        return
    if case.product == "smoked-fish" or any(said(part, "smoked") for part in fish):
        quarts = canner_quarts(case.handling.equipment)
        if quarts is not None and quarts < SMOKED_FISH_CANNER_QUARTS:
            yield Finding(
                message="Smoked fish was tested in canners of 16 quarts or more only.",
                fix="Use a 16 quart or larger canner with 4 quarts of water in it.",
                where="#/handling/equipment",
                measured=Measured(Bounds.exactly(quarts), "quarts"),
                limit=at_least(SMOKED_FISH_CANNER_QUARTS, "quarts"),
            )
    if not any_rows(case):
        yield from _too_short(case, FISH_MINUTES, "Fish takes the published fish time.")


def canner_quarts(equipment: str | None) -> Fraction | None:
    """The size that words for a canner name: "10-quart canner"."""
    found = re.search(r"(\d{1,3})[ -]?(?:qt|quart)", equipment.lower()) if equipment else None
    return Fraction(found[1]) if found else None


@rule(
    "cool-down-conditions",
    "Jars cool upright at room temperature, 12 to 24 hours.",
    Severity.SPOILAGE,
    scope=Scope(methods=OtherThan(PRESSURE), handled=("cooling",)),
)
def jars_cool_slowly(case: Case) -> Iterator[Finding | Note]:
    cooling = case.handling.cooling
    if processed(case) and case.method not in PRESSURE and cooling is not None and not mentions(cooling, *REST):
        yield Finding(
            message="Jars that are cooled fast or moved may break or lose their seal.",
            fix="Stand them apart on a rack or towel at room temperature for 12 to 24 hours.",
            where="#/handling/cooling",
        )


@rule(
    "ferment-canned-process",
    "Only fully fermented food is canned as a ferment.",
    Severity.SPOILAGE,
    scope=Scope(families=("ferment",)),
)
def ferments_are_finished(case: Case) -> Iterator[Finding | Note]:
    if not processed(case) or case.family != "ferment" or not (case.steps or case.handling.skipped_steps):
        return
    days = [days_of(step) for step in case.steps if step.startswith("ferment")]
    skipped = any(mentions(step, "ferment", "fermenting") for step in case.handling.skipped_steps)
    fresh = bool(saying(case, "freshly salted", "part-fermented", "partly fermented"))
    unfinished = any(found is not None and found < KRAUT_DAYS_MIN for found in days)
    if skipped or fresh or not days or unfinished:
        yield Finding(
            message="The food isn't fully fermented, or the steps don't say that it is.",
            fix="Let it ferment to the end before it is canned, or keep it in the refrigerator.",
            where="#/steps",
        )


def days_of(step: str) -> int | None:
    """The fewest days a step such as "ferment-3-to-4-weeks" takes, where it says."""
    found = re.search(r"(\d{1,3})(?:-to-\d{1,3})?-(day|week)", step)
    return None if found is None else int(found[1]) * (7 if found[2] == "week" else 1)


RULES: tuple[Rule, ...] = (
    low_acid_food_is_pressure_canned,
    jars_get_a_timed_process,
    jars_stay_upright,
    only_canners_process_jars,
    process_is_long_enough,
    time_belongs_to_the_pack,
    short_processes_start_with_sterile_jars,
    jam_is_processed,
    powders_do_not_replace_heat,
    food_is_covered_with_liquid,
    a_broken_boil_starts_again,
    a_pressure_drop_starts_again,
    pressure_canners_are_vented,
    pressure_canners_cool_by_themselves,
    low_heat_is_for_listed_pickles,
    mixed_vegetables_take_the_longest_time,
    soup_takes_the_soup_time,
    dry_beans_are_soaked,
    meat_is_part_of_what_was_tested,
    fish_takes_the_fish_time,
    jars_cool_slowly,
    ferments_are_finished,
)

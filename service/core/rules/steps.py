"""The steps as they were sent, beside the published work: what isn't sent is taken as published."""

from collections.abc import Iterable, Iterator
from fractions import Fraction

from service.core.measures.steps import AFTERWARDS, HEATING, INTO_JARS, REDUCING, StepWord, read_step
from service.core.rules.case import Case, Role
from service.core.rules.findings import Finding
from service.core.rules.heat import DRY_PACKED, INVERTED
from service.core.rules.printed import COLD
from service.core.rules.reading import GEL_FAMILIES, mentions

COOKING = frozenset({*HEATING, *REDUCING})
NEEDS = {
    "oil": frozenset({Role.FAT}),
    "starch": frozenset({Role.THICKENER, Role.GRAIN}),
    "gelatin": frozenset({Role.THICKENER}),
    "vegetable": frozenset({Role.VEGETABLE, Role.TOMATO, Role.LEGUME, Role.FRUIT}),
    "extra": frozenset({Role.NUT, Role.FRUIT}),
    "juice": frozenset({Role.FRUIT, Role.TOMATO, Role.LIQUID, Role.ACID}),
    "citrus": frozenset({Role.FRUIT, Role.ACID}),
    "liquid": frozenset({Role.LIQUID, Role.FRUIT, Role.TOMATO}),
    "pectin": frozenset({Role.PECTIN}),
}
# What takes acid away, thickens, or gives time to spoil, where the tested recipe has nothing of the kind.
OTHER_WORK = frozenset({*REDUCING, "lime-soak", "brine-soak", "syrup-soak", "ferment", "stand", "refrigerate"})
PARTING = frozenset({"drain", "strain"})
SOURS = frozenset({"acid", "vinegar", "brine", "acid-in-jar", "acid-soak"})
WAITING_OR_PARTING = frozenset({*OTHER_WORK, *PARTING, "soak", "rinse", "acid-soak"})
JUDGED_BY_A_RULE = (*INVERTED, *DRY_PACKED)
JUDGED_BY_TIME = frozenset({"ferment", "lime-soak", "rinse"})  # by rules of their own
AS_PUBLISHED = "Follow the published steps in their order; steps that aren't sent are taken as published."


def strange_work(case: Case) -> Iterator[Finding]:
    """Steps that nobody published: words not known, times cut, food cooked in its jar or processed out of it."""
    sent = case.recipe.steps
    own = case.tested.recipe.steps if case.tested is not None else ()
    if not sent or sent == own or case.method in COLD:
        return
    steps = [read_step(step) for step in sent]
    words = ["" if step is None else step.word for step in steps]
    own_words = [step.word for step in map(read_step, own) if step is not None]
    filled = [at for at, word in enumerate(words) if word in INTO_JARS]
    processed = words.index("process") if "process" in words else None
    for at, (written, word) in enumerate(zip(sent, words, strict=True)):
        early = word in AFTERWARDS and (processed is None or at < processed)
        if (not word or early) and not mentions(written, *JUDGED_BY_A_RULE):
            yield Finding(
                f"What the step “{written}” does to this food isn't known here.",
                "Write it in the words that steps have, or leave the steps out where they are the published ones.",
                f"#/steps/{at}",
            )
        elif word in NEEDS and word not in own_words and not any(part.role in NEEDS[word] for part in case.parts):
            yield Finding(
                f"The step “{written}” puts in something that the ingredients don't list.",
                "List everything that goes in, with its amount.",
                f"#/steps/{at}",
            )
        elif word in COOKING and "fill" in words[:at] and (processed is None or at < processed):
            yield Finding("The steps cook the food after the jars are filled.", AS_PUBLISHED, f"#/steps/{at}")
        elif _is_other_work(case, word, words[:at], own_words) and (processed is None or at < processed):
            yield Finding(f"The step “{written}” is no part of the published work.", AS_PUBLISHED, f"#/steps/{at}")
    if processed is not None and filled and filled[-1] > processed:
        yield Finding(
            "The steps process the food before it is in its jars.",
            "Fill the jars first: the published time is for food in closed jars.",
            f"#/steps/{processed}",
        )
    yield from _cut_short(case, list(filter(None, steps)))


def _is_other_work(case: Case, word: str, before: list[str], own: list[str]) -> bool:
    """Whether a step takes acid away, thickens, or lets the food stand, where the tested recipe doesn't."""
    if word in WAITING_OR_PARTING and not set(INTO_JARS).isdisjoint(before):
        return True
    if case.family in GEL_FAMILIES and word in (*REDUCING, "stand"):  # its boil and its rest are judged by the set
        return False
    soured = next((at for at, each in enumerate(own) if each in SOURS), len(own))
    if word in PARTING and not SOURS.isdisjoint(before):
        return PARTING.isdisjoint(own[soured:])
    return word in OTHER_WORK and word not in own


def _cut_short(case: Case, steps: list[StepWord]) -> Iterator[Finding]:
    """Steps with less time than the tested recipe's, and a process shorter than the one that was sent beside them."""
    in_canner = case.process.minutes if case.process is not None else None
    for step in steps:
        if step.word == "process" and step.low is not None and in_canner is not None and step.low < in_canner:
            yield Finding(
                f"The steps process {_minutes(step.low)}, and the process is {in_canner} minutes.",
                "Process the jars for the whole of the published time.",
                "#/steps",
            )
    if case.tested is None or case.family in GEL_FAMILIES:  # a spread's boil is judged by what it does to the set
        return
    own = _longest(filter(None, map(read_step, case.tested.recipe.steps)))
    for word, minutes in _longest(steps).items():
        if word in own and word not in JUDGED_BY_TIME and minutes < own[word]:
            yield Finding(
                f"“{word.replace('-', ' ').capitalize()}” takes {_minutes(own[word])} in the tested recipe, "
                f"and {_minutes(minutes)} here.",
                "Give every step its published time.",
                "#/steps",
            )


def _longest(steps: Iterable[StepWord]) -> dict[str, Fraction]:
    """All the time each word is given at least, in minutes; a word that never says how long is taken as published."""
    total: dict[str, Fraction] = {}
    for step in steps:
        if step.low is not None:
            total[step.word] = total.get(step.word, Fraction(0)) + step.low
    return total


def _minutes(minutes: Fraction) -> str:
    return f"{float(minutes):g} minutes"

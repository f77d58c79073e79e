"""What two tables, or a table and a sentence, say of the same thing: each a question to one row."""

from service.core.measures.jars import JAR_ML
from service.core.measures.lines import read_line
from service.core.rules import facts as published
from service.core.rules.facts import Facts, GaugeBand, Process

# No row of any product covers these; the times are the recipe's own, by the usual table of jams.
OWN_TIMES = frozenset({"peach-butter", "pear-butter", "cranberry-conserve-no-pectin", "citrus-marmalade-no-pectin"})
TOMATOES_ONLY = {("weighted", 15, 0)}  # Guide 3 of the Complete Guide: 15 psi up to 1,000 ft


def every_amount_is_said(recipe: published.TestedRecipe) -> bool:
    """Whether each ingredient's printed sentence says the amount that stands beside it."""
    for one in recipe.ingredients:
        line = read_line(one.line)
        if one.per_jar is not None:
            each = getattr(line, "per_jar", None)
            if each is None or each.amount.bounds.high != one.per_jar.amount:
                return False
        else:
            amount = getattr(line, "amount", None)
            if amount is None or one.amount is None:
                if amount is not one.amount:
                    return False
            elif amount.bounds.high != one.amount.high or amount.bounds.low not in (one.amount.low, 0):  # 0: "up to"
                return False
    return True


def options_are_rows(recipe: published.TestedRecipe, known: Facts) -> bool:
    """Whether each process printed with the recipe is that of a row of its product, where one covers it."""
    rows = known.processes_of.get(recipe.product or "", ())
    return recipe.id in OWN_TIMES or all(
        not option.bands
        or any(
            (row.method, row.bands, row.acids) == (option.method, option.bands, option.acids)
            and set(option.jar_sizes) <= set(row.jar_sizes)
            for row in rows
        )
        for option in recipe.options
    )


def pressures_stand_on_the_gauge(row: Process, gauges: tuple[GaugeBand, ...]) -> bool:
    """Whether a pressure and the foot of its band stand among the pressures of that gauge."""
    gauge = row.method.removeprefix("pressure-")
    known = {(each.gauge, each.pressure_psi, each.band.low_ft) for each in gauges} | TOMATOES_ONLY
    return all((gauge, each.pressure_psi, each.band.low_ft) in known for each in row.bands if each.pressure_psi)


def acid_goes_by_the_jar(row: Process) -> bool:
    """Whether a jar of half the size gets half of the acid."""
    return all(
        amount * JAR_ML["quart"] / JAR_ML[jar] == acid.per_jar["quart"]
        for acid in row.acids
        for jar, amount in acid.per_jar.items()
        if "quart" in acid.per_jar
    )

"""Every rule of the kitchen, by hand, in the order a verdict shows them."""

from service.core.rules import (
    acid,
    altitude,
    batch_size,
    coverage,
    equipment,
    fat_and_dairy,
    headspace,
    heat,
    ingredients,
    jars_and_lids,
    pectin,
    proportions,
    seal_and_storage,
    spreads,
    substitution,
    sweeteners,
    thickeners,
    untested_food,
)
from service.core.rules.findings import Rule
from service.core.rules.scope import Selection

RULES: tuple[Rule, ...] = (
    *untested_food.RULES,
    *acid.RULES,
    *proportions.RULES,
    *substitution.RULES,
    *ingredients.RULES,
    *thickeners.RULES,
    *fat_and_dairy.RULES,
    *pectin.RULES,
    *sweeteners.RULES,
    *spreads.RULES,
    *batch_size.RULES,
    *heat.RULES,
    *altitude.RULES,
    *jars_and_lids.RULES,
    *headspace.RULES,
    *equipment.RULES,
    *seal_and_storage.RULES,
    *coverage.RULES,
)
SELECTION = Selection(RULES)

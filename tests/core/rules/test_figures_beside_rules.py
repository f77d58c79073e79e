"""A figure that stands beside a rule in code is the one that the published catalogue gives under the rule's id."""

from fractions import Fraction

import pytest

from service.core.measures.units import ML_PER_FLUID_OUNCE, ML_PER_TABLESPOON, ML_PER_TEASPOON
from service.core.rules import (
    acid,
    altitude,
    batch_size,
    equipment,
    fat_and_dairy,
    gels,
    headspace,
    heat,
    ingredients,
    jars_and_lids,
    nearest,
    proportions,
    spreads,
    substitution,
    sweeteners,
)
from service.published.cells import Row
from service.published.loading import facts

BESIDE: dict[tuple[str, str], Fraction | int] = {
    ("tomato-acid-floor", "lemon_juice_tbsp_per_quart"): acid.LEMON_ML_PER_QUART / ML_PER_TABLESPOON,
    ("tomato-acid-floor", "citric_acid_tsp_per_quart"): acid.CITRIC_ML_PER_QUART / ML_PER_TEASPOON,
    ("tomato-vinegar-floor", "vinegar_tbsp_per_quart"): acid.VINEGAR_ML_PER_QUART / ML_PER_TABLESPOON,
    ("tomato-vinegar-floor", "vinegar_strength_percent_min"): acid.VINEGAR_PERCENT_MIN,
    ("tomato-acid-even-under-pressure", "lemon_juice_tbsp_per_quart"): (
        acid.TOMATO_FLOORS["lemon-juice"] / ML_PER_TABLESPOON
    ),
    ("tomato-acid-even-under-pressure", "citric_acid_tsp_per_quart"): (
        acid.TOMATO_FLOORS["citric-acid"] / ML_PER_TEASPOON
    ),
    ("tomato-acid-even-under-pressure", "vinegar_tbsp_per_quart"): acid.TOMATO_FLOORS["vinegar"] / ML_PER_TABLESPOON,
    ("fig-acid-floor", "lemon_juice_tbsp_per_quart"): acid.FIG_FLOORS["lemon-juice"] / ML_PER_TABLESPOON,
    ("fig-acid-floor", "citric_acid_tsp_per_quart"): acid.FIG_FLOORS["citric-acid"] / ML_PER_TEASPOON,
    ("asian-pear-acid-floor", "lemon_juice_tbsp_per_quart"): acid.PEAR_FLOORS["lemon-juice"] / ML_PER_TABLESPOON,
    ("juice-strength", "citric_acid_percent_min"): acid.JUICE_PERCENT_MIN,
    ("vinegar-strength-five", "acetic_acid_percent_min"): acid.VINEGAR_PERCENT_MIN,
    ("lime-and-lye-reset", "rinses_min"): proportions.RINSES_MIN,
    ("vegetable-juice-cap", "vegetable_cups_max"): proportions.JUICE_BLEND_VEGETABLE_CUPS,
    ("vegetable-juice-cap", "tomato_lb"): proportions.JUICE_BLEND_TOMATO_LB,
    ("spaghetti-sauce-veg-cap", "tomato_lb"): proportions.SAUCE_TOMATO_LB,
    ("spaghetti-sauce-veg-cap", "onion_cups_max"): proportions.SAUCE_ONION_CUPS,
    ("spaghetti-sauce-veg-cap", "garlic_cloves_max"): proportions.SAUCE_GARLIC_CLOVES,
    ("spaghetti-sauce-veg-cap", "celery_or_green_pepper_cups_max"): proportions.SAUCE_CELERY_OR_PEPPER_CUPS,
    ("spaghetti-sauce-veg-cap", "mushroom_lb_max"): proportions.SAUCE_MUSHROOM_LB,
    ("spaghetti-sauce-veg-cap", "oil_cups_max"): proportions.SAUCE_OIL_CUPS,
    ("hard-boil-one-minute", "boil_seconds"): gels.HARD_BOIL_SECONDS,
    ("hard-boil-one-minute", "flag_under_seconds"): gels.HARD_BOIL_SECONDS_LOW,
    ("hard-boil-one-minute", "flag_over_seconds"): gels.HARD_BOIL_SECONDS_HIGH,
    ("honey-limit-added-pectin", "honey_cups_max"): sweeteners.HONEY_CUPS_MAX,
    ("honey-limit-added-pectin", "honey_cups_max_small_batch"): sweeteners.HONEY_CUPS_MAX_SMALL_BATCH,
    ("honey-limit-added-pectin", "honey_cups_caution_small_batch"): sweeteners.HONEY_CUPS_CAUTION_SMALL_BATCH,
    ("corn-syrup-limit", "fraction_of_sugar_max_no_pectin_jam_or_jelly"): (
        sweeteners.SYRUP_SHARE_NO_PECTIN_JAM_OR_JELLY
    ),
    ("corn-syrup-limit", "fraction_of_sugar_max_no_pectin_other"): sweeteners.SYRUP_SHARE_NO_PECTIN_OTHER,
    ("corn-syrup-limit", "fraction_of_sugar_max_powdered_pectin"): sweeteners.SYRUP_SHARE_POWDER,
    ("corn-syrup-limit", "cups_max_liquid_pectin"): sweeteners.SYRUP_CUPS_LIQUID_PECTIN,
    ("liquid-sweetener-water", "juice_out_tbsp_per_quarter_cup_low"): sweeteners.JUICE_OUT_TBSP_PER_QUARTER_CUP,
    ("jelly-no-pectin-sugar-ratio", "sugar_cups_per_juice_cup_flag_under"): sweeteners.JELLY_SUGAR_PER_JUICE_LOW,
    ("jelly-no-pectin-sugar-ratio", "sugar_cups_per_juice_cup_flag_over"): sweeteners.JELLY_SUGAR_PER_JUICE_HIGH,
    ("hm-gel-ph-window", "ph_max"): spreads.GEL_PH_HIGH,
    ("hm-gel-solids", "finished_solids_percent_min"): spreads.FINISHED_SOLIDS * 100,
    ("hm-gel-solids", "boil_off_percent_added_pectin_high"): spreads.BOIL_OFF_ADDED_PECTIN_HIGH * 100,
    ("hm-gel-solids", "boil_off_percent_no_pectin_high"): spreads.BOIL_OFF_NO_PECTIN_HIGH * 100,
    ("acid-for-set", "lemon_juice_tbsp"): spreads.SET_JUICE_ML / ML_PER_TABLESPOON,
    ("acid-for-set", "apricot_crushed_cups_high"): spreads.SET_JUICE_PER_FRUIT_CUPS["apricot"],
    ("acid-for-set", "peach_crushed_cups_high"): spreads.SET_JUICE_PER_FRUIT_CUPS["peach"],
    ("acid-too-high-weep", "acid_multiple_of_tested_max"): spreads.ACID_MULTIPLE_MAX,
    ("remake-soft-powder", "jelly_cups"): spreads.REMAKE_JELLY_CUPS,
    ("jelly-juice-cap-added-pectin", "juice_cups_max"): batch_size.JELLY_JUICE_CUPS_MAX,
    ("jelly-juice-cap-no-pectin", "juice_cups_warn_over"): batch_size.NO_PECTIN_JUICE_CUPS_WARN,
    ("jelly-juice-cap-no-pectin", "juice_cups_max"): batch_size.NO_PECTIN_JUICE_CUPS_MAX,
    ("jam-fruit-cap", "prepared_fruit_cups_max"): batch_size.JAM_FRUIT_CUPS_MAX,
    ("fruit-butter-batch", "pulp_cups_max_without_tested_recipe"): batch_size.BUTTER_PULP_CUPS_MAX,
    ("proportional-scaling-ok", "ratio_tolerance_percent"): batch_size.SCALING_TOLERANCE * 100,
    ("salsa-jar-limit", "jar_fl_oz_max"): jars_and_lids.PINT_ML / ML_PER_FLUID_OUNCE,
    ("jelly-jar-max", "jar_fl_oz_max"): jars_and_lids.PINT_ML / ML_PER_FLUID_OUNCE,
    ("pint-max-foods", "jar_fl_oz_max"): jars_and_lids.PINT_ML / ML_PER_FLUID_OUNCE,
    ("curd-half-pint", "jar_fl_oz_max"): jars_and_lids.HALF_PINT_ML / ML_PER_FLUID_OUNCE,
    ("headspace-jam", "headspace_in"): headspace.JAM_IN,
    ("headspace-fruit-pickle", "headspace_in"): headspace.FRUIT_AND_PICKLE_IN,
    ("headspace-low-acid", "headspace_in"): headspace.LOW_ACID_IN,
    ("headspace-poultry", "headspace_in"): headspace.POULTRY_IN,
    ("headspace-out-of-range", "tolerance_in"): headspace.TOLERANCE_IN,
    ("headspace-freezer-jam", "headspace_in"): headspace.FREEZER_JAM_IN,
    ("jar-sterilise-under-ten", "jar_boil_minutes"): heat.CLEAN_JAR_MINUTES,
    ("jelly-process-time", "minutes_0_to_1000_ft"): heat.JAM_MINUTES[0][1],
    ("jelly-process-time", "minutes_1001_to_6000_ft"): heat.JAM_MINUTES[1][1],
    ("jelly-process-time", "minutes_over_6000_ft"): heat.JAM_MINUTES[2][1],
    ("jelly-process-time", "minutes_unsterile_jars_min"): heat.CLEAN_JAR_MINUTES,
    ("vent-ten-minutes", "vent_minutes_min"): heat.VENT_MINUTES,
    ("low-temp-pasteurise-listed-only", "water_temp_f_min"): heat.PASTEURIZATION_F.low,
    ("low-temp-pasteurise-listed-only", "water_temp_f_max"): heat.PASTEURIZATION_F.high or 0,
    ("low-temp-pasteurise-listed-only", "minutes_min"): heat.PASTEURIZATION_MINUTES,
    ("mixed-vegetable-process", "minutes_pint"): heat.MIXED_VEGETABLE_MINUTES["pint"],
    ("mixed-vegetable-process", "minutes_quart"): heat.MIXED_VEGETABLE_MINUTES["quart"],
    ("soup-process", "minutes_pint"): heat.SOUP_MINUTES["pint"],
    ("soup-process", "minutes_quart"): heat.SOUP_MINUTES["quart"],
    ("soup-process", "minutes_seafood"): heat.SEAFOOD_SOUP_MINUTES,
    ("fish-limits", "minutes_pint"): heat.FISH_MINUTES["pint"],
    ("fish-limits", "quart_minutes"): heat.FISH_MINUTES["quart"],
    ("fish-limits", "smoked_canner_quarts_min"): heat.SMOKED_FISH_CANNER_QUARTS,
    ("steam-canner-45-minutes", "minutes_max"): equipment.STEAM_MINUTES_MAX,
    ("altitude-jelly-bands", "minutes_0_to_1000_ft"): heat.JAM_MINUTES[0][1],
    ("altitude-jelly-bands", "minutes_1001_to_6000_ft"): heat.JAM_MINUTES[1][1],
    ("altitude-jelly-bands", "minutes_over_6000_ft"): heat.JAM_MINUTES[2][1],
    ("kraut-salt-ratio", "salt_percent_low"): ingredients.KRAUT_SALT_LEAST * 100,
    ("kraut-salt-ratio", "salt_percent_high"): ingredients.KRAUT_SALT_MOST * 100,
    ("ferment-temperature", "ferment_temp_f_slow_low"): ingredients.KRAUT_TEMP_F_LOW,
    ("ferment-temperature", "ferment_temp_f_high"): ingredients.KRAUT_TEMP_F_HIGH,
    ("ferment-over-hot", "ferment_temp_f_min"): ingredients.FERMENT_TEMP_F_LOW,
    ("ferment-over-hot", "ferment_temp_f_max"): ingredients.FERMENT_TEMP_F_HIGH,
    ("oil-pack-bar", "spaghetti_sauce_oil_cups_max"): fat_and_dairy.PLAIN_SAUCE_OIL_CUPS,
    ("oil-pack-bar", "spaghetti_sauce_tomato_lb"): fat_and_dairy.PLAIN_SAUCE_TOMATO_LB,
    ("garlic-oil-limit", "days_max"): fat_and_dairy.GARLIC_OIL_DAYS_MAX,
    ("infused-oil-acid", "citric_acid_tbsp_per_2_cups_water"): fat_and_dairy.CITRIC_TBSP_PER_2_CUPS_WATER,
    ("marinated-pepper-ratio", "pepper_lb"): fat_and_dairy.PEPPERS_LB,
    ("marinated-pepper-ratio", "lemon_juice_cups_min"): fat_and_dairy.LEMON_CUPS,
    ("marinated-pepper-ratio", "vinegar_cups_min"): fat_and_dairy.VINEGAR_CUPS,
    ("marinated-pepper-ratio", "oil_cups_max"): fat_and_dairy.OIL_CUPS,
    ("marinated-pepper-ratio", "onion_cups_max"): fat_and_dairy.ONION_CUPS,
    ("butter-foam-limit", "butter_tsp_max"): fat_and_dairy.FOAM_BUTTER_ML / ML_PER_TEASPOON,
    ("salsa-flex-ratio", "juice_per_solids_min"): substitution.JUICE_PER_SOLIDS_MIN,
    ("salsa-flex-ratio", "vegetables_per_tomato_max"): substitution.VEGETABLES_PER_TOMATO_MAX,
}


def stands_beside_its_rule(statement: Row) -> bool:
    """Whether each figure of the statement that stands in code too stands there the same."""
    inner = statement.within(statement.cells["figures"])
    return all(
        BESIDE.get((statement.text("id"), name), inner.fraction(name)) == inner.fraction(name) for name in inner.cells
    )


@pytest.mark.parametrize(("id", "figure"), BESIDE, ids=" ".join)
def test_a_figure_beside_a_rule_is_the_published_one(id: str, figure: str) -> None:
    assert BESIDE[id, figure] == Fraction(facts().statement[id].figures[figure])


def test_the_last_band_of_a_dial_gauge_ends_where_the_published_rule_ends() -> None:
    figures = facts().statement["altitude-dial-gauge"].figures
    assert f"psi_to_{altitude.DIAL_PSI_HIGHEST_FT}_ft" in figures
    assert not [name for name in figures if "10000" in name]


def test_batches_are_compared_as_closely_as_they_are_scaled() -> None:
    assert nearest.SCALING_PRECISION == batch_size.SCALING_TOLERANCE

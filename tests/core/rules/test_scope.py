"""A check asks only the rules whose scope holds: that is the same as asking every rule of every recipe.

The recipes are the tested ones in each of their processes, the published warnings, and random ones. Each rule's own
examples are held to its scope as well, where they are judged (`cases.answers`).
"""

import os

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from service.checks.bodies import RecipeCheckRequest
from service.checks.checking import recipe
from service.core.measures.jars import JAR_ML
from service.core.rules.case import Case
from service.core.rules.check import understood
from service.core.rules.rulebook import RULES, SELECTION
from service.published.loading import facts
from tests.checks.tested_recipes import Body, Cell, body_of, body_warned_of, cells_of, warnings_to_try

FACTS = facts()
ASKED_FOR = os.environ.get("INVARIANT_EXAMPLES")


def case_of(body: Body) -> Case:
    request = RecipeCheckRequest.model_validate(body)
    return understood(recipe(request, request.altitude_ft or 0), FACTS)


def assert_none_is_missed(case: Case) -> None:
    """Those that are asked are the ones in scope, and the others have nothing to say."""
    in_scope = tuple(rule for rule in RULES if rule.scope.holds(case))
    assert SELECTION.of(case) == in_scope
    asked = {rule.id for rule in in_scope}
    missed = {rule.id: said for rule in RULES if rule.id not in asked and (said := list(rule.judge(case)))}
    assert not missed, case.recipe


def ways_of(id: str) -> list[Cell]:
    """A tested recipe in each of its canners and jars, at the first printed altitude."""
    cells = cells_of(FACTS.tested_recipe[id])
    return list({(cell.option.id, cell.jar): cell for cell in reversed(list(cells))}.values())


@pytest.mark.parametrize("id", [one.id for one in FACTS.tested_recipes])
def test_no_rule_is_missed_for_a_tested_recipe(id: str) -> None:
    for cell in ways_of(id):
        assert_none_is_missed(case_of(body_of(cell)))
        assert_none_is_missed(case_of(body_of(cell, as_lines=True)))


@pytest.mark.parametrize("warning", warnings_to_try(), ids=lambda warning: warning["id"])
def test_no_rule_is_missed_where_publications_warn(warning: Body) -> None:
    assert_none_is_missed(case_of(body_warned_of(warning)))


# Words that rules look for, in a form or beside a name.
SAID = (
    *("chopped", "bottled", "fresh", "dried", "canned", "unpeeled", "pureed", "in oil", "creamed", "breaded", "moldy"),
    *(
        "overripe",
        "frost-killed",
        "sweetened",
        "diluted",
        "5 percent",
        "3 percent",
        "tablet",
        "wild",
        "blue",
        "low-sodium",
    ),
)
NAMES = (
    *("cake mix", "lettuce", "flurble", "aspirin", "sausage roll", "margarine", "hummus", "cider", "lemonade", "roux"),
    *("stevia", "lard", "quinoa", "foraged mushroom", "caramel", "lye", "canning tablet", "pumpkin", "baby food"),
)
METHODS = (
    *("boiling-water", "atmospheric-steam", "pressure-dial", "pressure-weighted", "low-temperature-pasteurization"),
    *("refrigerate", "freeze", "oven", "none", "saucepan", "pressure canner", "vacuum"),
)
HANDLED = {
    "sterile_jars": (True, False),
    "covering_liquid": (True, False),
    "interrupted": (True, False),
    "restarted": (True, False),
    "closure": ("two-piece lids", "paraffin", "wire bail", "used lids", "vacuum"),
    "storage": ("shelf", "refrigerator", "freezer"),
    "cooling": ("on a rack", "under cold water", "inverted"),
    "equipment": ("10-quart canner", "copper kettle", "electric multi-cooker", "oven"),
    "vent_minutes": (0, 5, 10),
    "boil_minutes": (1, 3),
    "water_temp_f": (170, 182, 212),
    "ferment_temp_f": (50, 72, 95),
    "skipped_steps": (("vent",), ("rinse", "soak")),
}
STEPS = sorted({step for one in FACTS.tested_recipes for step in one.steps})
TITLES = (
    "A recipe",
    "Cream of tomato soup",
    "Pumpkin butter",
    "Freezer jam",
    "Cake in a jar",
    "Lemon curd",
    "Remade jelly",
)


def at_times(values: st.SearchStrategy[object]) -> st.SearchStrategy[object]:
    return st.none() | values


an_ingredient = st.fixed_dictionaries(
    {
        "name": st.sampled_from([one.name for one in FACTS.ingredients]) | st.sampled_from(NAMES),
        "amount": st.sampled_from([None, 0.25, 1, 2, 4, 8]),
        "unit": st.sampled_from(["cup", "tbsp", "tsp", "lb", "each", "can"]),
        "form": at_times(st.sampled_from(SAID)),
        "optional": st.booleans(),
    }
)
a_recipe = st.fixed_dictionaries(
    {
        "title": st.sampled_from(TITLES) | st.sampled_from([one.title for one in FACTS.tested_recipes]),
        "ingredients": st.lists(an_ingredient, min_size=1, max_size=10),
        "family": at_times(st.sampled_from(sorted({one.family for one in FACTS.tested_recipes}))),
        "product": at_times(st.sampled_from(sorted(FACTS.processes_of))),
        "steps": at_times(st.lists(st.sampled_from(STEPS), max_size=6)),
        "pack": st.sampled_from([None, "hot", "raw"]),
        "headspace_in": st.sampled_from([None, 0.25, 0.5, 1]),
        "jars": at_times(st.sampled_from([*JAR_ML, "bucket"]).map(lambda size: [{"size": size, "count": 4}])),
        "process": at_times(
            st.fixed_dictionaries(
                {
                    "method": st.sampled_from(METHODS),
                    "minutes": st.sampled_from([None, 5, 10, 20, 45, 90]),
                    "pressure_psi": st.sampled_from([None, 10, 11, 15]),
                }
            )
        ),
        "altitude_ft": st.sampled_from([-100, 0, 1001, 3500, 9000]),
        "handling": st.dictionaries(st.sampled_from(sorted(HANDLED)), st.integers(0, 60), max_size=3).map(
            lambda places: {name: HANDLED[name][place % len(HANDLED[name])] for name, place in places.items()}
        ),
    }
)


@settings(
    max_examples=int(ASKED_FOR or 300),
    derandomize=ASKED_FOR is None,
    database=None,
    phases=[Phase.generate],
    suppress_health_check=[HealthCheck.too_slow],
)
@given(a_recipe)
def test_no_rule_is_missed_for_any_recipe(body: Body) -> None:
    assert_none_is_missed(case_of(body))

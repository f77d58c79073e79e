"""What a batch takes, step by step, and the batches no kitchen could make."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.measures.jars import JAR_ML
from service.core.refusals import Refused
from service.core.scheduling.bookings import Step
from service.core.scheduling.chains import (
    Canner,
    Cycle,
    Placed,
    PlacedLoad,
    chains,
    hands,
    misplaced,
    needs,
    rested_min,
)
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.spans import Span
from tests.core.scheduling.make import DIAL, FIGURES, JAM, WATER, chain, figures

BW, STEAM, PRESSURE = CannerKind.BOILING_WATER, CannerKind.ATMOSPHERIC_STEAM, CannerKind.PRESSURE_DIAL
SMALL = Canner.of(BW, {"half-pint": 8, "pint": 7})


def placed(*loads: PlacedLoad, prep: int = 0, cook: int = 30) -> Placed:
    return Placed(prep, cook, loads or (PlacedLoad(50, 65, BW, 1440),))


def test_a_load_in_boiling_water_heats_up_is_processed_and_stands_before_it_is_lifted_out() -> None:
    (load,) = chain().loads
    assert load.cycles == {BW: Cycle(20, 10, out_after_minutes=15 + 10 + 5, free_after_minutes=30 + 5 + 10)}


def test_a_pressure_load_is_vented_and_loses_its_pressure_by_itself() -> None:
    (load,) = chain({"pint": 9}, {("pint", PRESSURE): 75}, (DIAL,)).loads
    assert load.cycles[PRESSURE].out_after_minutes == 15 + 10 + 5 + 75 + 45 + 10


@given(st.integers(1, 300))
def test_a_cycle_is_on_the_grid_and_never_shorter_than_its_parts(minutes: int) -> None:
    cycle = chain(processes={("half-pint", BW): minutes}).loads[0].cycles[BW]
    assert cycle.process_minutes == minutes
    assert cycle.out_after_minutes % 5 == 0
    assert 0 <= cycle.out_after_minutes - (15 + minutes + 5) < 5


@pytest.mark.parametrize(
    ("jars", "loads"),
    [
        pytest.param({"half-pint": 12}, [("half-pint", 12)], id="a full load"),
        pytest.param({"half-pint": 13}, [("half-pint", 12), ("half-pint", 1)], id="one jar over"),
        pytest.param({"half-pint": 4, "pint": 4}, [("half-pint", 4), ("pint", 4)], id="one size a load"),
    ],
)
def test_jars_are_parted_into_loads_of_one_size(jars: dict[str, int], loads: list[tuple[str, int]]) -> None:
    made = chain(jars, {("half-pint", BW): 10, ("pint", BW): 15})
    assert [(load.jar_size, load.jars) for load in made.loads] == loads


def test_there_is_a_chain_for_each_canner_it_could_fill_fewest_loads_first() -> None:
    found = chains({"half-pint": 16}, JAM, (SMALL, WATER), (200,), FIGURES)
    assert not isinstance(found, Refused)
    assert [[load.jars for load in chain.loads] for chain in found] == [[8, 8], [12, 4]]
    assert [load.fits(SMALL) for load in found[1].loads] == [False, True]
    assert [load.fits(WATER) for load in found[1].loads] == [True, True]


def test_a_size_that_a_canner_doesnt_list_goes_by_the_next_larger() -> None:
    assert WATER.holds("quarter-pint") == 12
    assert WATER.holds("half-gallon") == 0


@pytest.mark.parametrize(
    ("jars", "processes", "canners", "racks", "own", "code", "says"),
    [
        pytest.param({}, JAM, (WATER,), (200,), {}, "not-possible", "how many", id="no jars"),
        pytest.param({"bucket": 1}, JAM, (WATER,), (200,), {}, "not-possible", "sizes known", id="an unknown size"),
        pytest.param({"quart": 1}, JAM, (WATER,), (200,), {}, "not-possible", "quart", id="no process for the size"),
        pytest.param({"half-pint": 1}, JAM, (DIAL,), (200,), {}, "does-not-fit", "boiling-water", id="no such canner"),
        pytest.param({"half-pint": 1}, JAM, (), (200,), {}, "does-not-fit", "boiling-water", id="no canner at all"),
        pytest.param(
            {"half-gallon": 1},
            {("half-gallon", BW): 10},
            (WATER,),
            (200,),
            {},
            "does-not-fit",
            "half-gallon",
            id="too large for every canner",
        ),
        pytest.param({"half-pint": 9}, JAM, (WATER,), (4, 4), {}, "does-not-fit", "8 places", id="more than the racks"),
        pytest.param({"half-pint": 9}, JAM, (WATER,), (5, 5), {}, "does-not-fit", "one load", id="more than any rack"),
        pytest.param({"half-pint": 9}, JAM, (WATER,), (), {}, "does-not-fit", "0 places", id="no rack"),
        pytest.param(
            {"half-pint": 60}, JAM, (WATER,), (200,), {"longest_hold_minutes": 60}, "does-not-fit", "hot", id="too long"
        ),
    ],
)
def test_a_batch_that_never_could_be_made_is_refused_by_name(
    jars: dict[str, int],
    processes: dict[tuple[str, CannerKind], int],
    canners: tuple[Canner, ...],
    racks: tuple[int, ...],
    own: dict[str, int],
    code: str,
    says: str,
) -> None:
    answer = chains(jars, processes, canners, racks, figures(**own))
    assert isinstance(answer, Refused)
    assert answer.code == code
    assert says in answer.detail


@given(
    st.dictionaries(st.sampled_from(sorted(JAR_ML)), st.integers(1, 60), min_size=1, max_size=3),
    st.lists(
        st.builds(
            Canner.of,
            st.sampled_from(CannerKind),
            st.dictionaries(st.sampled_from(sorted(JAR_ML)), st.integers(1, 20), min_size=1, max_size=3),
        ),
        min_size=1,
        max_size=4,
    ),
    st.dictionaries(st.tuples(st.sampled_from(sorted(JAR_ML)), st.sampled_from(CannerKind)), st.integers(1, 200)),
)
def test_every_jar_is_in_one_load_of_its_size_that_some_canner_holds(
    jars: dict[str, int], canners: list[Canner], processes: dict[tuple[str, CannerKind], int]
) -> None:
    found = chains(jars, processes, canners, (500,), figures(longest_hold_minutes=10_000))
    for made in () if isinstance(found, Refused) else found:
        assert {size: sum(load.jars for load in made.loads if load.jar_size == size) for size in jars} == jars
        for load in made.loads:
            assert any(load.fits(canner) for canner in canners)
            assert all(cycle.process_minutes == processes[load.jar_size, kind] for kind, cycle in load.cycles.items())


def test_a_placed_chain_takes_its_equipment_in_the_order_of_the_work() -> None:
    assert [(need.step, need.kind, need.span, need.attended) for need in needs(chain(), placed())] == [
        (Step.PREP, EquipmentKind.TABLE, Span(0, 30), True),
        (Step.COOK, EquipmentKind.BURNER, Span(30, 65), True),  # until the last jar is filled
        (Step.FILL, EquipmentKind.TABLE, Span(50, 65), True),
        (Step.PROCESS, EquipmentKind.CANNER, Span(45, 110), False),
        (Step.PROCESS, EquipmentKind.BURNER, Span(45, 110), False),
        (Step.REST, EquipmentKind.RACK, Span(95, 1440), False),
    ]


def test_somebody_watches_a_pressure_canner_but_hands_are_needed_at_its_ends_only() -> None:
    made = chain({"pint": 9}, {("pint", PRESSURE): 75}, (DIAL,))
    at = placed(PlacedLoad(50, 65, PRESSURE, 1440))
    assert [need.attended for need in needs(made, at) if need.kind is EquipmentKind.CANNER] == [True]
    assert hands(made, at) == (Span(0, 30), Span(30, 50), Span(50, 65), Span(65, 70), Span(225, 230))


OPEN = (Span(480, 1200), Span(1920, 2640))


@pytest.mark.parametrize(
    ("out_min", "rested"),
    [
        pytest.param(480, 1920, id="12 hours later the kitchen has just closed"),
        pytest.param(465, 1190, id="12 hours later the kitchen is open"),
        pytest.param(1195, 1920, id="ready at the very opening"),
        pytest.param(1300, 2025, id="ready after the opening"),
        pytest.param(2000, None, id="nobody knows when it opens again"),
    ],
)
def test_jars_leave_the_rack_at_the_first_open_minute_after_twelve_hours(out_min: int, rested: int | None) -> None:
    assert rested_min(chain(), out_min, OPEN) == rested


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        pytest.param(placed(cook=25), "after prep", id="cooks before it is prepared"),
        pytest.param(placed(PlacedLoad(85, 100, BW, 1440), cook=65), "after prep", id="waits too long to be cooked"),
        pytest.param(placed(PlacedLoad(45, 60, BW, 1440)), "filled after cook", id="is filled before it is cooked"),
        pytest.param(placed(PlacedLoad(50, 60, BW, 1440)), "within 10", id="goes in before it is filled"),
        pytest.param(placed(PlacedLoad(50, 80, BW, 1440)), "within 10", id="stands too long"),
        pytest.param(placed(PlacedLoad(160, 175, BW, 1440)), "last jar", id="is held too long"),
        pytest.param(placed(PlacedLoad(50, 65, STEAM, 1440)), "published", id="another kind of canner"),
    ],
)
def test_a_chain_out_of_order_or_too_slow_is_told_so(wrong: Placed, says: str) -> None:
    assert says in (misplaced(chain(), wrong) or "")


def test_two_loads_are_not_filled_and_loaded_at_once() -> None:
    made = chain({"half-pint": 24})
    first = PlacedLoad(50, 65, BW, 1440)
    assert misplaced(made, placed(first, PlacedLoad(70, 85, BW, 1440))) is None
    assert "hands" in (misplaced(made, placed(first, PlacedLoad(65, 80, BW, 1440))) or "")
    assert misplaced(replace(made, longest_hold_minutes=34), placed(first, PlacedLoad(70, 85, BW, 1440)))

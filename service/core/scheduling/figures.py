"""How long the steps of a batch take in a kitchen, beside the published process itself."""

from collections.abc import Mapping
from dataclasses import dataclass

from service.core.refusals import Refused
from service.core.scheduling.slots import GRID_MINUTES


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure as it is published or practised, and how far a kitchen may set it apart from that.

    What a publication asks for is the least: a kitchen takes longer, never shorter.
    """

    name: str
    minutes: int
    least: int
    most: int
    says: str


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of one kitchen, in minutes. The published process isn't among them: nobody sets that."""

    prep_minutes: int  # at a table
    longest_wait_minutes: int  # what is prepared, until it cooks
    cook_minutes: int  # on a burner
    longest_hold_minutes: int  # what is cooked, hot in its pot, until the last jar is filled
    fill_minutes: int  # the jars of one load
    longest_standing_minutes: int  # filled jars, until they are in the canner
    warm_minutes: int  # the canner and its water, before jars go in
    hands_minutes: int  # jars going in; and again, lifted out
    boil_minutes: int  # from jars in to a boil, or to steam
    vent_minutes: int  # steam flowing from a pressure canner
    pressurize_minutes: int  # from the closed vent to the pressure
    depressurize_minutes: int  # from heat off until the gauge is at zero by itself
    lid_minutes: int  # a pressure canner at zero, until it is opened
    stand_minutes: int  # any other canner, from heat off until jars are lifted out
    cleaning_minutes: int  # an empty canner, until the next may have it
    rest_minutes: int  # jars on the rack, at least


def figures(published: Mapping[str, Figure], own: Mapping[str, int]) -> Figures | Refused:
    """The published figures with a kitchen's own in their place, unless one of those can't be."""
    for name, minutes in own.items():
        figure = published.get(name)
        if figure is None:
            return Refused("not-possible", f"The figures of a kitchen: {', '.join(published)}.")
        if minutes % GRID_MINUTES or not figure.least <= minutes <= figure.most:
            detail = f"{name} is between {figure.least} and {figure.most}, in steps of {GRID_MINUTES} minutes."
            return Refused("not-possible", detail)
    return Figures(**{name: own.get(name, figure.minutes) for name, figure in published.items()})

"""Where a member's jars go who leaves the kitchen: none stays on a shelf that nobody looks after."""

from dataclasses import replace
from uuid import UUID

from service.core.jars.movements import EATABLE, HELD, Balances, Kind, Movement, State


def departure(balances: Balances, name: str, jars_to: UUID | None, kitchens_id: UUID) -> list[Movement]:
    """All jars go to the member `jars_to`. Without one the leaver takes along, by name, what may be eaten.

    What is on hold or called back isn't anybody's to take: it goes to `kitchens_id`, who acts for the kitchen.
    """
    moved = []
    for place, jars in balances.items():
        if not jars or place.state not in HELD:
            continue
        if jars_to is None and place.state in EATABLE:
            moved.append(Movement(Kind.GIVE, jars, place, replace(place, state=State.GIVEN), recipient=name))
        else:
            moved.append(Movement(Kind.GIVE, jars, place, replace(place, holder_id=jars_to or kitchens_id)))
    return moved

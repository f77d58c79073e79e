"""What a member of a kitchen may be trusted with."""

from enum import StrEnum


class Role(StrEnum):
    """Each role may do what the ones before it may, and more."""

    MEMBER = "member"
    TRAINER = "trainer"
    COORDINATOR = "coordinator"

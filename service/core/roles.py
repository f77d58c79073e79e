"""What a member of a kitchen may be trusted with, and how much of it one of their tokens carries."""

from enum import StrEnum


class Role(StrEnum):
    """Each role may do what the ones before it may, and more."""

    MEMBER = "member"
    TRAINER = "trainer"
    COORDINATOR = "coordinator"


class Scope(StrEnum):
    """What a token is good for, within what its member may do."""

    EVERYTHING = "everything"
    READ = "read"
    "to look at whatever the member may see"
    BOARD = "board"
    "to look at what hangs on the wall: equipment, hours, closures, bookings, a day's timetable"
    INSTRUMENTS = "instruments"
    "to send and read heat logs and to send pH readings"

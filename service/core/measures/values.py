"""A value's fields are set once, when it is made. mypy holds every line of the service to that."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass as value
else:
    from dataclasses import dataclass

    def value(*, frozen: bool, eq: bool = True, slots: bool = False) -> Any:
        """`dataclass` for what a check makes by the hundred.

        Type checkers see a frozen dataclass. At run time nothing stands in the way of an assignment: a frozen class
        takes five times as long to make, as it has to get around its own guard for every field.
        """
        assert frozen, "a value is frozen"
        return dataclass(eq=eq, slots=slots, unsafe_hash=eq)


__all__ = ["value"]

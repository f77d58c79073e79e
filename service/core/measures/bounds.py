"""An amount is known between two ends, exactly: half a cup is one point, a cup of chopped fruit is a range of grams."""

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from math import lcm

Number = Fraction | int | Decimal


class Bounds:
    """Everything from `low` to `high`, both included; no `high` means that nothing is known to end it. Never changed.

    Both ends are held as whole numbers of one small part, in no lowest terms: amounts are multiplied, added up and
    compared at every turn, and a Fraction is made only of what is looked at. That takes a third of the time.
    """

    __slots__ = ("_high", "_high_end", "_low", "_low_end", "_parts")

    _low: int
    _high: int | None
    _parts: int  # in one; more than none
    _low_end: Fraction | None
    _high_end: Fraction | None

    def __init__(self, low: Number, high: Number | None) -> None:
        self._low, self._parts = low.as_integer_ratio()
        self._low_end = self._high_end = None
        self._high = high if high is None else self._low
        if high is not None and high is not low:
            self._high, parts = high.as_integer_ratio()
            if parts != self._parts:
                self._low, self._high, self._parts = self._low * parts, self._high * self._parts, self._parts * parts
            if self._high < self._low:
                raise ValueError("the low end lies above the high end")

    @classmethod
    def exactly(cls, value: Number) -> "Bounds":
        over, under = value.as_integer_ratio()
        return _made(over, over, under)

    @classmethod
    def total(cls, parts: Iterable["Bounds"]) -> "Bounds":
        """The sum of all parts; nothing at all adds up to zero."""
        listed = tuple(parts)
        common = in_common(listed)
        highs = [part._high * (common // part._parts) for part in listed if part._high is not None]
        lows = [part._low * (common // part._parts) for part in listed]
        return _made(sum(lows), sum(highs) if len(highs) == len(listed) else None, common)

    @property
    def low(self) -> Fraction:
        if self._low_end is None:
            self._low_end = Fraction(self._low, self._parts)
        return self._low_end

    @property
    def high(self) -> Fraction | None:
        if self._high_end is None and self._high is not None:
            self._high_end = self.low if self._high == self._low else Fraction(self._high, self._parts)
        return self._high_end

    @property
    def floats(self) -> tuple[float, float | None]:
        """Both ends as near as a float comes to them, for showing; no Fraction is made for that."""
        low = self._low / self._parts
        return low, low if self._high == self._low else None if self._high is None else self._high / self._parts

    @property
    def exact(self) -> bool:
        return self._low == self._high

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Bounds):
            return NotImplemented
        if self._low * other._parts != other._low * self._parts:
            return False
        if self._high is None or other._high is None:
            return self._high is other._high
        return self._high * other._parts == other._high * self._parts

    def __hash__(self) -> int:
        return hash((self.low, self.high))

    def __repr__(self) -> str:
        return f"Bounds(low={self.low!r}, high={self.high!r})"

    def __add__(self, other: "Bounds") -> "Bounds":
        return Bounds.total((self, other))

    def __mul__(self, other: "Bounds | Number") -> "Bounds":
        """The products of any two values within; without an upper end only what can't be negative is multiplied."""
        factor = other if isinstance(other, Bounds) else Bounds.exactly(other)
        low, high, least, most = self._low, self._high, factor._low, factor._high
        parts = self._parts * factor._parts
        if high is None or most is None:
            if low < 0 or least < 0:
                raise ValueError("a range without an upper end is multiplied by amounts of zero or more only")
            return _made(low * least, 0 if 0 in (high, most) else None, parts)
        if low >= 0 <= least:  # amounts: by far the most common
            return _made(low * least, high * most, parts)
        ends = (low * least, low * most, high * least, high * most)
        return _made(min(ends), max(ends), parts)

    def __rmul__(self, other: Number) -> "Bounds":
        return self * other

    def __truediv__(self, other: "Bounds | Number") -> "Bounds":
        """The quotients of any two values within, opening outward: by something that may be zero there is no upper end.

        Raises ZeroDivisionError where the divisor is zero and nothing else, or may be negative and zero alike.
        """
        divisor = other if isinstance(other, Bounds) else Bounds.exactly(other)
        least, most, parts = divisor._low, divisor._high, divisor._parts
        if most is not None and least == most and least > 0:
            return self * _made(parts, parts, least)
        if most is not None and (most < 0 or least > 0):  # both ends have one sign, so `least * most` is above zero
            return self * _made(parts * least, parts * most, least * most)
        if least < 0 or most == 0:
            raise ZeroDivisionError("the divisor may be zero")
        smallest = Fraction(0) if most is None else Fraction(parts, most)
        return self * Bounds(smallest, Fraction(parts, least) if least else None)

    def contains(self, value: "Bounds | Number") -> bool:
        """Whether this value, or all of that range, lies within."""
        return self.holds(value if isinstance(value, Bounds) else Bounds.exactly(value))

    def holds(self, inner: "Bounds") -> bool:
        """Whether all of that range lies within."""
        if inner._low * self._parts < self._low * inner._parts:
            return False
        if self._high is None or inner._high is None:
            return self._high is None
        return inner._high * self._parts <= self._high * inner._parts

    def ends_above(self, other: "Bounds") -> bool:
        if self._high is None or other._high is None:
            return other._high is not None
        return self._high * other._parts > other._high * self._parts

    def beside(self, other: "Bounds") -> tuple[int, int, int | None, int, int | None]:
        """How many of a small part make one, and both ends of both in such parts."""
        ours, theirs = self._parts, other._parts
        high, other_high = self._high, other._high
        return (
            ours * theirs,
            self._low * theirs,
            None if high is None else high * theirs,
            other._low * ours,
            None if other_high is None else other_high * ours,
        )

    def overlaps(self, other: "Bounds") -> bool:
        return (self.high is None or other.low <= self.high) and (other.high is None or self.low <= other.high)

    def union(self, other: "Bounds") -> "Bounds":
        """The smallest range that holds both."""
        high = None if self.high is None or other.high is None else max(self.high, other.high)
        return Bounds(min(self.low, other.low), high)

    def in_parts(self, of_one: int) -> tuple[int, int | None]:
        """Both ends as whole numbers of a part that so many of make one, as `in_common` finds it."""
        times = of_one // self._parts
        return self._low * times, None if self._high is None else self._high * times


def _made(low: int, high: int | None, parts: int) -> Bounds:
    """What is worked out is in order already: the constructor would look at it once more."""
    made = object.__new__(Bounds)
    made._low, made._high, made._parts = low, high, parts
    made._low_end = made._high_end = None
    return made


def in_common(ranges: Iterable[Bounds]) -> int:
    """How many of a small part make one, so that all ends of these ranges are whole numbers of it."""
    return lcm(*[each._parts for each in ranges])

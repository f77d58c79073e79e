"""An amount is known between two ends, exactly: half a cup is one point, a cup of chopped fruit is a range of grams."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import lcm

Number = Fraction | int | Decimal


@dataclass(frozen=True, slots=True)
class Bounds:
    """Everything from `low` to `high`, both included; no `high` means that nothing is known to end it."""

    low: Fraction
    high: Fraction | None

    def __post_init__(self) -> None:
        if type(self.low) is not Fraction:
            object.__setattr__(self, "low", Fraction(self.low))
        if self.high is not None and self.high is not self.low:
            if type(self.high) is not Fraction:
                object.__setattr__(self, "high", Fraction(self.high))
            if below(self.high, self.low):
                raise ValueError("the low end lies above the high end")

    @classmethod
    def exactly(cls, value: Number) -> "Bounds":
        exact = value if type(value) is Fraction else Fraction(value)
        return cls(exact, exact)

    @classmethod
    def total(cls, parts: Iterable["Bounds"]) -> "Bounds":
        """The sum of all parts; nothing at all adds up to zero."""
        listed = tuple(parts)
        highs = [part.high for part in listed if part.high is not None]
        return cls(_sum([part.low for part in listed]), _sum(highs) if len(highs) == len(listed) else None)

    @property
    def exact(self) -> bool:
        return self.low is self.high or self.low == self.high

    def __add__(self, other: "Bounds") -> "Bounds":
        high = None if self.high is None or other.high is None else self.high + other.high
        return Bounds(self.low + other.low, high)

    def __mul__(self, other: "Bounds | Number") -> "Bounds":
        """The products of any two values within; without an upper end only what can't be negative is multiplied."""
        if type(other) is Fraction and self.high is not None and self.low.numerator >= 0 <= other.numerator:
            low = _product(self.low, other)  # an amount in another unit or of a larger batch: shorter still
            return Bounds(low, low if self.high is self.low else _product(self.high, other))
        factor = other if isinstance(other, Bounds) else Bounds.exactly(other)
        if self.high is not None and factor.high is not None and self.low.numerator >= 0 <= factor.low.numerator:
            low = _product(self.low, factor.low)  # amounts: by far the most common, and short
            both_exact = self.high is self.low and factor.high is factor.low
            return Bounds(low, low if both_exact else _product(self.high, factor.high))
        if self.high is None or factor.high is None:
            if self.low < 0 or factor.low < 0:
                raise ValueError("a range without an upper end is multiplied by amounts of zero or more only")
            high = Fraction(0) if 0 in (self.high, factor.high) else None
            return Bounds(self.low * factor.low, high)
        ends = [a * b for a in (self.low, self.high) for b in (factor.low, factor.high)]
        return Bounds(min(ends), max(ends))

    def __rmul__(self, other: Number) -> "Bounds":
        return self * other

    def __truediv__(self, other: "Bounds | Number") -> "Bounds":
        """The quotients of any two values within, opening outward: by something that may be zero there is no upper end.

        Raises ZeroDivisionError where the divisor is zero and nothing else, or may be negative and zero alike.
        """
        divisor = other if isinstance(other, Bounds) else Bounds.exactly(other)
        if self.high is not None and divisor.high is not None and self.low.numerator >= 0 < divisor.low.numerator:
            low = _quotient(self.low, divisor.high)  # amounts again
            both_exact = self.high is self.low and divisor.high is divisor.low
            return Bounds(low, low if both_exact else _quotient(self.high, divisor.low))
        if divisor.high is not None and (divisor.high < 0 or divisor.low > 0):
            low = 1 / divisor.high
            return self * Bounds(low, low if divisor.high is divisor.low else 1 / divisor.low)
        if divisor.low < 0 or divisor.high == 0:
            raise ZeroDivisionError("the divisor may be zero")
        smallest = Fraction(0) if divisor.high is None else 1 / divisor.high
        return self * Bounds(smallest, 1 / divisor.low if divisor.low else None)

    def scaled(self, factor: Number) -> "Bounds":
        return self * factor

    def contains(self, value: "Bounds | Number") -> bool:
        """Whether this value, or all of that range, lies within."""
        inner = value if isinstance(value, Bounds) else Bounds.exactly(value)
        if inner.high is inner.low and self.high is self.low:  # two exact amounts
            return inner.low.as_integer_ratio() == self.low.as_integer_ratio()
        if self.high is not None and (inner.high is None or below(self.high, inner.high)):
            return False
        return not below(inner.low, self.low)

    def overlaps(self, other: "Bounds") -> bool:
        return (self.high is None or other.low <= self.high) and (other.high is None or self.low <= other.high)

    def union(self, other: "Bounds") -> "Bounds":
        """The smallest range that holds both."""
        high = None if self.high is None or other.high is None else max(self.high, other.high)
        return Bounds(min(self.low, other.low), high)


def in_common(values: Iterable[Fraction]) -> tuple[list[int], int]:
    """The numerators of these values over one common denominator, and that denominator: adding them up is quick."""
    ratios = [value.as_integer_ratio() for value in values]
    common = lcm(*[under for _, under in ratios])
    return [above * (common // under) for above, under in ratios], common


# A Fraction's own operators first look at what they were given: two to three times as long.


def side_by_side(one: Fraction, other: Fraction) -> tuple[int, int]:
    """Both as multiples of one small part, which stand to each other as they do."""
    above, under = one.as_integer_ratio()
    other_above, other_under = other.as_integer_ratio()
    return above * other_under, other_above * under


def below(one: Fraction, other: Fraction) -> bool:
    above, under = one.as_integer_ratio()
    other_above, other_under = other.as_integer_ratio()
    return above * other_under < other_above * under


def _product(one: Fraction, other: Fraction) -> Fraction:
    above, under = one.as_integer_ratio()
    other_above, other_under = other.as_integer_ratio()
    return Fraction(above * other_above, under * other_under)


def _quotient(one: Fraction, other: Fraction) -> Fraction:
    above, under = one.as_integer_ratio()
    other_above, other_under = other.as_integer_ratio()
    return Fraction(above * other_under, under * other_above)


def _sum(values: Iterable[Fraction]) -> Fraction:
    numerators, common = in_common(values)
    return Fraction(sum(numerators), common)

"""Amounts as people write them: "7½ c", "4 to 4 1/2 lb", "1 package (1 3/4 oz)", "3/4 cup + 2 tbsp", "5 cups or 2 lb".

A tokenizer and a small grammar, read from left to right without ever going back over a text twice:

    amount   = ["up to" | "at least"] quantity {"or" quantity}        two ways to say the same amount
    quantity = range [["x"] size] unit {["+" | "plus" | "and"] range unit | "and" part} [size]
    size     = "(" ["about"] range unit ["each"] ")"                  of a package, or again the same amount
    range    = number [("to" | "or" | "-") number]
    number   = whole | decimal | part | whole ["and"] part | word
    part     = fraction | [word] ("half" | "thirds" | "quarter" …) ["of"] ["a"]

What doesn't fit is `Unread`, with the reason; nothing is guessed.
"""

import re
from dataclasses import field
from fractions import Fraction

from service.core.measures.bounds import Bounds
from service.core.measures.units import EACH, FOREIGN, METRIC, UNITS, Dimension, Unit, unit_named
from service.core.measures.values import value

LONGEST_TEXT = 300  # characters; the longest line in print has a third of it
LONGEST_WHOLE = 6  # digits
DECIMAL_PLACES = 6
LARGEST_DENOMINATOR = 64

PLURALS = {
    name: f"{name}{'es' if name.endswith(('ch', 'x')) else 's'}"
    for name, unit in UNITS.items()
    if unit.container or name == "cup"
}
VULGAR = {
    "½": Fraction(1, 2),
    "⅓": Fraction(1, 3),
    "⅔": Fraction(2, 3),
    "¼": Fraction(1, 4),
    "¾": Fraction(3, 4),
    "⅕": Fraction(1, 5),
    "⅖": Fraction(2, 5),
    "⅗": Fraction(3, 5),
    "⅘": Fraction(4, 5),
    "⅙": Fraction(1, 6),
    "⅚": Fraction(5, 6),
    "⅛": Fraction(1, 8),
    "⅜": Fraction(3, 8),
    "⅝": Fraction(5, 8),
    "⅞": Fraction(7, 8),
}
NUMBER_WORDS = {
    word: Fraction(value)
    for value, words in enumerate(
        ("a an one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"),
        start=1,
    )
    for word in words.split()
}
PART_WORDS = {
    word: parts
    for parts, words in (
        (2, "half"),
        (3, "third thirds"),
        (4, "quarter quarters fourth fourths"),
        (8, "eighth eighths"),
    )
    for word in words.split()
}
DASHES = frozenset("-–—‐‑")
ALIKE = Fraction(1, 50)  # 1/3 cup and 5 tbsp are not
ALIKE_CONVERTED = Fraction(1, 8)  # a pound and 500 g are: a working limit of ours
ABOUT = frozenset({"about", "approximately", "approx.", "approx", "roughly", "~"})
VAGUE = frozenset({"few", "couple", "several", "some", "handful", "handfuls", "splash", "drizzle", "knob"}) | {
    *("sprinkle", "sprinkling", "squeeze", "bit", "little", "touch", "dollop")
}
PLUS = frozenset({"+", "plus"})
TIMES = frozenset({"x", "×"})
PERCENT = frozenset({"%", "percent"})
INCHES = frozenset({"inch", "inches", '"', "″", "”"})  # a size, and no amount
SLASHES = frozenset({"/", "⁄"})
BEGINNINGS = frozenset({"up", "at", *ABOUT, *NUMBER_WORDS, *PART_WORDS, *VULGAR})  # of an amount, beside figures

_LETTER = rf"[^\W\d_{''.join(VULGAR)}]"
_TOKEN = re.compile(
    r"(?P<number>[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?(?![0-9])|[0-9]*\.[0-9]+|[0-9]+)"
    rf"|(?P<word>{_LETTER}+(?:['’]{_LETTER}+)*\.?|#)"
    r"|(?P<mark>\S)"
)


@value(frozen=True, slots=True)
class Unread:
    """A text that can't be read for sure, with the reason in words for the person who wrote it."""

    text: str
    reason: str


@value(frozen=True, slots=True)
class Measure:
    """So many of one unit."""

    bounds: Bounds
    unit: Unit

    @property
    def base(self) -> Bounds:
        """The same in millilitres, grams or pieces, as wide as the unit's custom leaves it."""
        return self.bounds * self.unit.size


@value(frozen=True, slots=True)
class Amount:
    """So many of one unit, with the size of one package where it is printed, and other words for the same amount."""

    bounds: Bounds
    unit: Unit
    package_size: Measure | None
    text: str
    also: tuple[Measure, ...] = ()  # "5 cups or 2 lb": the 2 lb
    # In millilitres, grams and pieces, as far as it is said in any of them, and as wide as the units' custom leaves it.
    measured: dict[Dimension, Bounds] = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        bases = {self.unit.dimension: self.bounds * self.unit.size}
        if self.also or self.package_size is not None:
            for measure in self.also if self.contents is None else (*self.also, self.contents):
                kind = measure.unit.dimension
                bases[kind] = measure.base if kind not in bases else self._either(bases[kind], measure)
        object.__setattr__(self, "measured", bases)

    def _either(self, first: Bounds, other: Measure) -> Bounds:
        """An amount said twice in one measure: as said first, or from the one to the other where they aren't alike."""
        alike = ALIKE_CONVERTED if (self.unit.name in METRIC) != (other.unit.name in METRIC) else ALIKE
        low, high = first.low, first.high
        if other.base.low < low * (1 - alike):
            low = other.base.low
        if high is not None and (other.base.high is None or other.base.high > high * (1 + alike)):
            high = other.base.high
        return Bounds(low, high)

    @property
    def base(self) -> Bounds:
        """As it is said first, in millilitres, grams or pieces."""
        return self.measured[self.unit.dimension]

    @property
    def approximate(self) -> bool:
        """Whether the cook says "about"."""
        return self.text.lower().startswith(tuple(ABOUT))

    @property
    def contents(self) -> Measure | None:
        """What all packages hold together, by their printed size."""
        if self.package_size is None:
            return None
        return Measure(self.bounds * self.package_size.bounds, self.package_size.unit)


@value(frozen=True, slots=True)
class Token:
    kind: str  # number | word | mark
    text: str
    start: int
    end: int

    @property
    def plain(self) -> str:
        return self.text.lower()


class _Unreadable(Exception):
    """Ends the reading of one text; never leaves this module."""


def read_amount(text: str) -> Amount | Unread:
    """The amount that this whole text says, or why it can't be read."""
    answer = leading_amount(text)
    if answer is None:
        return Unread(text, "This doesn't begin with an amount.")
    if isinstance(answer, Unread):
        return answer
    amount, end = answer
    if text[end:].strip(" ."):
        return Unread(text, "Something after the amount can't be read.")
    return amount


def leading_amount(text: str) -> tuple[Amount, int] | Unread | None:
    """The amount a text begins with and where it ends; None where it doesn't begin with one."""
    if len(text) > LONGEST_TEXT:
        return Unread(text[:LONGEST_TEXT], f"The text is longer than {LONGEST_TEXT} characters.")
    if not _may_begin(text):
        return None
    reader = _Reader(text)
    try:
        amount = reader.amount()
    except _Unreadable as reason:
        return Unread(text, str(reason))
    return None if amount is None else (amount, reader.end)


def _may_begin(text: str) -> bool:
    """Whether the first word of a text may be that of an amount; of most descriptions it isn't."""
    first = _TOKEN.search(text)
    if first is None or first.lastgroup == "number":
        return first is not None
    return first[0].lower() in BEGINNINGS or _is_rough(unit_named(first[0]))


def _is_rough(unit: Unit | None) -> bool:
    return unit is not None and not unit.spread.exact


def as_fraction(value: Fraction) -> str:
    """A number as a cook writes it, exactly: 4 1/2, 1/3, 12, 0.035."""
    if value.denominator > LARGEST_DENOMINATOR:
        return f"{round(value * 10**DECIMAL_PLACES) / 10**DECIMAL_PLACES:.{DECIMAL_PLACES}f}".rstrip("0")
    whole, rest = divmod(value.numerator, value.denominator)
    if not rest:
        return str(whole)
    return f"{whole} {rest}/{value.denominator}" if whole else f"{rest}/{value.denominator}"


def written(measure: Measure | Amount) -> str:
    """The amount in words that read back as the same."""
    bounds, unit = measure.bounds, measure.unit
    if bounds.high is None:
        number = f"at least {as_fraction(bounds.low)}"
    elif bounds.exact:
        number = as_fraction(bounds.low)
    elif bounds.low == 0:
        number = f"up to {as_fraction(bounds.high)}"
    else:
        number = f"{as_fraction(bounds.low)} to {as_fraction(bounds.high)}"
    plural = unit.name in PLURALS and bounds.high is not None and bounds.high > 1
    text = number if unit is EACH else f"{number} {PLURALS[unit.name] if plural else unit.name}"
    if isinstance(measure, Amount):
        text += f" ({written(measure.package_size)} each)" if measure.package_size else ""
        text += "".join(f" or {written(other)}" for other in measure.also)
    return text


class _Reader:
    """One pass over the tokens of one text. `end` is where the last thing that was understood ends."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.tokens = [
            Token(match.lastgroup or "", match.group(), match.start(), match.end()) for match in _TOKEN.finditer(text)
        ]
        self.at = 0

    @property
    def end(self) -> int:
        return self.tokens[self.at - 1].end if self.at else 0

    def peek(self, ahead: int = 0) -> Token:
        index = self.at + ahead
        return self.tokens[index] if index < len(self.tokens) else Token("", "", len(self.text), len(self.text))

    def take(self, *words: str) -> bool:
        """Step over these words, if they come next."""
        if any(self.peek(ahead).plain != word for ahead, word in enumerate(words)):
            return False
        self.at += len(words)
        return True

    def take_one_of(self, words: frozenset[str]) -> bool:
        return self.take(self.peek().plain) if self.peek().plain in words else False

    def amount(self) -> Amount | None:
        start = self.peek().start
        up_to = self.take("up", "to")
        at_least = not up_to and self.take("at", "least")
        self.take_one_of(ABOUT)
        first = self.quantity()
        if first is None:
            return None
        also = first.also
        while (other := self.same_amount()) is not None:
            also += (Measure(other.bounds, other.unit), *other.also)
        bounds = first.bounds
        if up_to:
            bounds = Bounds(Fraction(0), bounds.high)
        elif at_least:
            bounds = Bounds(bounds.low, None)
        return Amount(bounds, first.unit, first.package_size, self.text[start : self.end], also)

    def same_amount(self) -> Amount | None:
        """The "or 2 lb" of "5 cups or 2 lb"; a bare number after "or" begins something else."""
        before = self.at
        other = self.quantity() if self.take("or") else None
        if other is None or not other.unit.measured:
            self.at = before
            return None
        return other

    def quantity(self) -> Amount | None:
        bounds = self.range() or self.pinch()
        if bounds is None or self.take_one_of(PERCENT):
            return None
        by_size = self.take_one_of(TIMES)
        size = self.size() or self.size_before_package()
        if by_size and size is None:
            raise _Unreadable("Say how many packages, and of what size.")
        dashed = self.take_one_of(DASHES)
        if self.peek().plain in INCHES:
            return None
        unit = self.unit()
        package = self.container_word() if unit is not None and unit.measured and size is None else None
        if package is not None:  # "3-oz pouch": one pouch
            size, bounds, unit = Measure(bounds, unit or EACH), Bounds.exactly(1), package
        elif dashed:
            return None  # "4-inch"
        if size is not None and unit is not None and unit.measured:
            raise _Unreadable("A measure can't have a size of its own.")
        unit = unit or EACH
        measure = self.to_and_more(Measure(bounds, unit))
        also: tuple[Measure, ...] = ()
        if size is None and (again := self.size()) is not None:
            size, also = (again, ()) if unit.container else (None, (again,))
        return Amount(measure.bounds, unit, size, "", also)

    def to_and_more(self, first: Measure) -> Measure:
        """What follows in a second unit of the same kind: "1 cup to 1 pint", "3/4 cup + 2 tbsp", "1 lb 4 oz"."""
        if not first.unit.measured:
            return first
        bounds, smallest = first.bounds, first.unit.factor
        before, ranged = self.at, self.take("to") or self.take_one_of(DASHES)
        if ranged and (end := self.measure_like(first.unit)) is not None:
            return Measure(_ascending(bounds.low, end.high or end.low), first.unit)
        self.at = before
        while True:
            before = self.at
            said, joined = self.take_one_of(PLUS), self.take("and")
            more = self.measure_like(first.unit) if said or joined or self.smaller_follows(smallest) else None
            if more is None and joined and bounds.exact:
                self.at = before + 1
                more = None if (part := self.spoken_part()) is None else Bounds.exactly(part)  # "a cup and a half"
            if more is None:
                if said:
                    raise _Unreadable("What is added must be measured the same way: write it on a line of its own.")
                self.at = before
                return Measure(bounds, first.unit)
            bounds += more

    def smaller_follows(self, factor: Fraction) -> bool:
        """Whether a number with a smaller unit comes next, as in "1 lb 4 oz"."""
        before = self.at
        number, unit = self.number(), self.unit()
        self.at = before
        return number is not None and unit is not None and unit.measured and unit.factor < factor

    def measure_like(self, unit: Unit) -> Bounds | None:
        """A range and a unit of the same dimension as this one, in this one."""
        bounds, other = self.range(), self.unit()
        if bounds is None or other is None or other.dimension is not unit.dimension:
            return None
        return bounds * (other.factor / unit.factor)

    def size(self) -> Measure | None:
        """A measure in parentheses."""
        before = self.at
        if self.take("("):
            self.take_one_of(ABOUT)
            bounds, _, unit = self.range(), self.take_one_of(DASHES), self.unit()
            self.take("each")
            if bounds is not None and unit is not None and unit.measured and self.take(")"):
                return Measure(bounds, unit)
        self.at = before
        return None

    def size_before_package(self) -> Measure | None:
        """The size in "2 14-ounce cans" or "a 3 oz pouch"."""
        before = self.at
        bounds, _, unit = self.range(), self.take_one_of(DASHES), self.unit()
        container = unit_named(self.peek().text)
        if bounds is not None and unit is not None and unit.measured and container is not None and container.container:
            return Measure(bounds, unit)
        self.at = before
        return None

    def container_word(self) -> Unit | None:
        """One container by its own word, as in "3 oz pouch"."""
        unit = unit_named(self.peek().text)
        if unit is None or not unit.container or self.peek().plain.rstrip(".").endswith("s"):
            return None
        self.at += 1
        return unit

    def unit(self) -> Unit | None:
        if self.peek().plain in FOREIGN:
            raise _Unreadable("Only US customary and metric kitchen measures are read, filled level.")
        for words in (2, 1):
            tokens = [self.peek(ahead) for ahead in range(words)]
            unit = unit_named(" ".join(token.text for token in tokens))
            if unit is not None and all(token.kind == "word" for token in tokens):
                self.at += words
                return unit
        return None

    def range(self) -> Bounds | None:
        low = self.number()
        if low is None:
            return None
        before = self.at
        ranged = self.take("to") or self.take("or") or self.take_one_of(DASHES)
        high = self.number() if ranged else None
        if high is None:
            self.at = before
            return Bounds.exactly(low)
        return _ascending(low, high)

    def number(self) -> Fraction | None:
        """A number in figures or words: 1 1/2, 1 and 1/2, one and a half, three-quarters of a, half a."""
        value = self.part()
        if value is not None:
            before = self.at
            self.take("of")
            if not (self.take("a") or self.take("an")):
                self.at = before
            return value
        value = self.number_word() if self.peek().kind == "word" else self.figures()
        before = self.at
        if value is not None and value.denominator == 1 and self.take("and"):
            part = self.part()
            if part is not None and part < 1:
                return value + part
            self.at = before
        return value

    def figures(self) -> Fraction | None:
        token, after = self.peek(), self.peek(1)
        if token.kind != "number":
            return None
        if after.text == "," and self.peek(2).kind == "number" and self.peek(2).start == token.end + 1:
            raise _Unreadable("Write decimals with a point, as in 1.5.")
        self.at += 1
        value = _digits(token.text)
        before, dashed = self.at, self.take("-")
        part = self.fraction() if value.denominator == 1 and "." not in token.text else None
        if part is not None and part < 1 and (value or not dashed):  # "1 1/2", "7½" and, as many write it, "1-1/2"
            return value + part
        self.at = before
        return value

    def pinch(self) -> Bounds | None:
        """A rough measure named without a number is one of it: "pinch of salt"."""
        return Bounds.exactly(1) if _is_rough(unit_named(self.peek().text)) else None

    def fraction(self) -> Fraction | None:
        """½ or 1/2."""
        over, slash, under = (self.peek(ahead) for ahead in range(3))
        if over.text in VULGAR:
            self.at += 1
            return VULGAR[over.text]
        if over.kind != "number" or slash.text not in SLASHES or under.kind != "number":
            return None
        denominator = _digits(under.text)
        if denominator.denominator != 1 or not 1 <= denominator <= LARGEST_DENOMINATOR:
            raise _Unreadable("This fraction isn't one that a kitchen measures.")
        self.at += 3
        return _digits(over.text) / denominator

    def part(self) -> Fraction | None:
        return self.fraction() if self.peek().kind != "word" else self.spoken_part()

    def spoken_part(self) -> Fraction | None:
        """Half, a quarter, two thirds, three-quarters; a whole or more isn't said so."""
        before, times = self.at, NUMBER_WORDS.get(self.peek().plain)
        if times is not None:
            self.at += 1
            self.take_one_of(DASHES)
        parts = PART_WORDS.get(self.peek().plain)
        if parts is None or (times or 1) >= parts or self.peek(1).text in DASHES:
            self.at = before
            return None
        self.at += 1
        return (times or Fraction(1)) / parts

    def number_word(self) -> Fraction | None:
        word, following = self.peek().plain, self.peek(1)
        if word not in NUMBER_WORDS or following.text in DASHES:
            return None
        if following.plain in VAGUE:
            raise _Unreadable("Say how many or how much.")
        self.at += 1
        return NUMBER_WORDS[word]


def _ascending(low: Fraction, high: Fraction) -> Bounds:
    if high < low:
        raise _Unreadable("The range runs downward: write the smaller amount first.")
    return Bounds(low, high)


def _digits(text: str) -> Fraction:
    plain = text.replace(",", "")
    whole, _, places = plain.partition(".")
    if len(places) > DECIMAL_PLACES or len(whole) > LONGEST_WHOLE:
        raise _Unreadable("This number is too long for a kitchen.")
    return Fraction(plain)

"""One line of a recipe, or the same sent in fields: how much of what, prepared how, and whether it may be left out.

A name keeps the words of the trade ("white vinegar", "powdered pectin", "ground beef"), in the singular; what was done
to the food goes to `form`. Whether anybody knows an ingredient of that name is decided elsewhere.
"""

import re
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from service.core.measures.amounts import (
    DECIMAL_PLACES,
    LONGEST_TEXT,
    LONGEST_WHOLE,
    VAGUE,
    Amount,
    Measure,
    Unread,
    leading_amount,
    read_amount,
    written,
)
from service.core.measures.bounds import Bounds
from service.core.measures.jars import JAR_ML
from service.core.measures.units import BUTTER_STICK, EACH, FOREIGN, UNITS, unit_named
from service.core.measures.values import value

__all__ = ["Line", "PerJar", "Unread", "from_object", "read_line"]

Number = int | float | Decimal | Fraction


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


# What was done to a food, how it came or what it was like: in front of a name these words belong to the form.
PREPARED = _words(
    """blanched boiled boiling bottled canned chilled chopped cleaned cold cooked cored crushed cubed cut deseeded diced
    distilled drained dried firm fresh frozen granulated grated ground halved heated hulled husked julienned large
    mashed medium melted minced mixed overripe packed peeled pitted powdered prepared pressed pureed quartered raw
    rinsed ripe roasted seeded seedless shelled shredded sieved sifted sliced small soaked soaking stemmed strained tart
    thawed
    toasted trimmed underripe unflavored unpeeled unripe unsalted unsweetened warm washed whole
    boneless shucked skinless rubbed crumbled picked homegrown store-bought
    lg med sm large-sized medium-sized small-sized"""
)
MANNER = _words("coarsely finely firmly freshly lightly roughly thickly thinly very")
JOINING = _words("and or")
DESCRIBING = PREPARED | MANNER | JOINING
# Where such a word is part of what the food is called.
TRADE_NAMES = {
    "dried": _words("bean pea lentil chickpea"),
    "ground": _words("beef meat pork lamb veal venison turkey chicken"),
    "mixed": _words("vegetable fruit berry nut"),
    "powdered": _words("pectin sugar milk"),
    "whole": _words("flour milk wheat"),
}
PIECES = _words(
    "clove drop ear head piece slice sprig stalk stick tablet"
)  # parts of a plant or a package, counted one by one
SHARED_HEADS = _words("juice oil peel pepper pulp rind salt seed sugar vinegar zest")  # "lemon or orange peel"
FRUIT_PARTS = _words("juice peel pulp rind zest")  # "juice of 2 lemons"
# The same said after the fruit: "2 lemons, juiced". What is pressed at home is fresh.
TAKEN_FROM = {
    "juiced": ("juice",),
    "juice of": ("juice",),
    "juice only": ("juice",),
    "zested": ("zest",),
    "zest of": ("zest",),
    "zest only": ("zest",),
    "juice and zest": ("juice", "zest"),
    "zest and juice": ("juice", "zest"),
    "juiced and zested": ("juice", "zest"),
    "zested and juiced": ("juice", "zest"),
}
SAYING_NO_MORE = DESCRIBING | PIECES
STAND_ALONE = _words("broth butter honey milk oil salt sugar syrup vinegar water wine")  # "water or apple juice"
OPTIONAL = frozenset({"optional", "if desired", "if you like"})
# What an ingredient is for, where that changes nothing in what it is.
PURPOSES = (
    *("for soaking", "for the soak", "for syrup", "for the syrup", "for brine", "for the brine", "for color"),
    *("for colour", "for flavor", "for flavour", "to reduce foaming", "to reduce foam", "to prevent foaming"),
    *("to prevent browning", "to prevent darkening", "from concentrate", "from the store", "from my garden"),
)
PEPPER_KINDS = _words("banana bell black chili green hot red sweet white yellow")  # "celery or green pepper"
UNMEASURED = ("to taste", "as needed", "as desired", "as required", "to cover", "for serving", "for garnish")
# After an amount within a description: it says where a share of the ingredient goes, and begins no second ingredient.
SHARES = _words("a at each for in later of on or per reserved soaked then thick to with")
INVARIABLE = _words("asparagus chess citrus couscous hummus molasses octopus swiss watercress")
IRREGULAR = {"leaves": "leaf", "halves": "half", "loaves": "loaf", "cookies": "cookie", "pies": "pie"}

_STRENGTH = r"[0-9]{1,3}(?:\.[0-9]{1,3})?"
_PERCENT = re.compile(
    rf"({_STRENGTH}(?: ?(?:-|–|to) ?{_STRENGTH})?) ?(?:%|percent\b)"
    r"(?:[ -](?:acidity|acetic acid|acid\b))?(?: or (?:more|higher|stronger)\b)?"
)
JAR_SHORT = {"qt": "quart", "pt": "pint"}
_JAR = "|".join(sorted((size.replace("-", "[- ]") for size in (*JAR_ML, *JAR_SHORT)), key=len, reverse=True))
_EACH = r"(?:per|to each|in each|into each|for each|for every)"
_PER_JAR = re.compile(
    rf"^{_EACH} (?P<before>{_JAR})(?: jar)?(?= |$)(?! jar| of )"
    rf"|(?: {_EACH} (?:1[ -]|one )?| ?/ ?)(?P<after>{_JAR})\.?(?: jar)?$",
    re.IGNORECASE,
)
_PER = re.compile(rf"(?:^| ){_EACH} ", re.IGNORECASE)
_INCHES = r"(?:[0-9]{1,3}(?:\.[0-9]{1,3})?(?:[ -]?[½¼¾⅓⅔⅛]|[ -][0-9]{1,2}/[0-9]{1,2}|/[0-9]{1,2})?|[½¼¾⅓⅔⅛])"
_SIZE = re.compile(
    rf"(?<![^ ]){_INCHES}(?:-? ?(?:to|or|-|–) ?{_INCHES})?[ -]?(?:inch(?:es)?(?![^\W\d_])|[\"″”])"
    r"(?: (?:long|thick|wide))?(?: or (?:less|more|longer|shorter|smaller|larger))?"
    r"(?: (?:piece|chunk|length|slice|strip|cube)s?(?: of)?(?= ))?"
)
_NAME = re.compile(r"[^\W\d_](?:[^\W\d_]|[ '’.&/-])*")
_PARTS = "|".join(sorted(FRUIT_PARTS))
_PART_OF = re.compile(
    rf"(?:the )?(?:(?:finely |freshly )?grated )?(?P<parts>(?:{_PARTS})(?: and (?:{_PARTS}))?) (?:of|from) "
    r"(?P<fruit>.+)",
    re.IGNORECASE,
)
_ADDED = re.compile(r"(.+) (?:\+|plus) (.+)")
_AMOUNT_WITHIN = re.compile(r"[^\W\d_] (?:and|in|plus|with|\+|to) [0-9½¼¾⅓⅔⅛]")
_PARENTHESES = re.compile(r"[()]")
_CUTS = re.compile(r"[(),;:–—-]")
_SEPARATOR = re.compile(r";|:(?= |$)|,(?![0-9]{3})| [-–—] ")
# Without any of these a text says no strength, no size and nothing about jars: hardly any does.
_FIGURES = re.compile(r"[0-9½¼¾⅓⅔⅛/]|\b(?:per|each|every)\b", re.IGNORECASE)
_TWO = re.compile(r"(.+?) (?:and|plus|\+) ((?:[0-9½¼¾⅓⅔⅛]|one |a half).+)")
_BULLET = re.compile(r"^(?:[*•·]+ *|[-–—] )")
_INVISIBLE = dict.fromkeys(map(ord, "\u00ad\u200b\u200c\u200d\u2060\ufeff"))
NO_THIRD = 100  # in hundredths nothing is near enough to a third or a sixth to stand for it
SOME = Fraction(7, 5)  # an amount that nothing turns into itself
JARS_UNCLEAR = "Say how much goes in, or into each jar: per pint, or per quart."
TWO_INGREDIENTS = "This looks like two ingredients: write each on a line of its own."


@value(frozen=True, slots=True)
class PerJar:
    """What goes into every jar of one size, on its own."""

    amount: Amount
    jar_size: str


@value(frozen=True, slots=True)
class Line:
    """One ingredient as read."""

    as_written: str
    name: str
    amount: Amount | None  # None: not said, or said per jar only
    form: tuple[str, ...] = ()  # lower-case words and phrases: "crushed", "bottled", "5 percent"
    optional: bool = False
    per_jar: PerJar | None = None
    alternatives: tuple["Line", ...] = ()  # any one of these may stand in its place
    more: tuple["Line", ...] = ()  # further ingredients on the same line: "1 tsp each cinnamon and cloves"
    note: str = ""  # "to taste", where no amount is said


@value(frozen=True, slots=True)
class _Piece:
    text: str
    aside: bool  # in parentheses


def read_line(text: str) -> Line | Unread:
    """The ingredient that one line of a recipe names, or why the line can't be read."""
    as_written = _BULLET.sub("", " ".join(text[: LONGEST_TEXT + 1].translate(_INVISIBLE).split()))
    if len(text) > LONGEST_TEXT:
        return Unread(as_written[:LONGEST_TEXT], f"The line is longer than {LONGEST_TEXT} characters.")
    plain = as_written.replace(" & ", " and ").replace(" each: ", " each ")
    if (part_of := _PART_OF.fullmatch(plain)) is not None:
        whole = read_line(part_of["fruit"])
        if isinstance(whole, Line) and whole.amount is not None:
            return _taken_from(replace(whole, as_written=as_written), part_of["parts"].lower().split(" and "))
    if (two := _two_by_the_jar(plain, as_written)) is not None:
        return two
    answer = leading_amount(plain)
    if isinstance(answer, Unread):
        return answer
    amount, end = answer or (None, 0)
    return _line(as_written, amount, _described(_pieces(plain[end:].strip().removeprefix("of "))))


def _two_by_the_jar(plain: str, as_written: str) -> Line | None:
    """Two ingredients that go into every jar, each in its own amount: "1 tbsp juice and 1/4 tsp salt per quart"."""
    found = _TWO.fullmatch(plain)
    second = read_line(found[2]) if found is not None else None
    if found is None or not isinstance(second, Line) or second.per_jar is None:
        return None
    first = read_line(found[1] if _PER_JAR.search(found[1]) else f"{found[1]} per {second.per_jar.jar_size}")
    if not isinstance(first, Line) or first.per_jar is None:
        return None
    return replace(first, as_written=as_written, more=(*first.more, second))


def _taken_from(whole: Line, parts: Sequence[str]) -> Line:
    """What is taken from so many fruits, part by part: their juice, pressed fresh, or their peel."""
    first, *more = (
        replace(whole, name=f"{whole.name} {part}", form=(*whole.form, "fresh") if part == "juice" else whole.form)
        for part in parts
    )
    return replace(first, more=tuple(more))


def from_object(
    name: str,
    amount: Number | None,
    amount_max: Number | None = None,
    unit: str | None = None,
    form: str | None = None,
    optional: bool = False,
    per_jar: Mapping[str, Hashable] | None = None,
) -> Line | Unread:
    """The same ingredient sent in fields; `per_jar` has an amount, a unit and a jar."""
    if len(name) + len(form or "") > LONGEST_TEXT:
        return Unread(name[:LONGEST_TEXT], f"The name and form are longer than {LONGEST_TEXT} characters.")
    whole = None if amount is None else _sent(amount, amount_max, unit)
    each = None if per_jar is None else _sent(per_jar.get("amount"), None, per_jar.get("unit"))
    if isinstance(whole, Unread):
        return replace(whole, text=name)
    if isinstance(each, Unread):
        return replace(each, text=name)
    counts = whole if each is None else each
    as_written = " ".join((name if counts is None else f"{counts.text} {name}").split())
    as_written += f", {form}" if form else ""
    jar_size = ""
    if per_jar is not None:
        jar_size = str(per_jar.get("jar", ""))
        as_written += f" per {jar_size}"
    as_written += " (optional)" if optional else ""
    line = _read_before(as_written, counts, name, form or "") or _line(as_written, counts, _pieces_of(name, form or ""))
    if isinstance(line, Unread):
        return line
    amount_read, by_the_jar = line.amount, line.per_jar
    if each is not None:
        if line.amount is None:  # the name speaks of jars as well
            return Unread(name, JARS_UNCLEAR)
        amount_read, by_the_jar = whole, PerJar(line.amount, jar_size)
    elif line.optional or not optional:
        return line
    return Line(  # not by `replace`, which takes several times as long
        line.as_written,
        line.name,
        amount_read,
        line.form,
        optional or line.optional,
        by_the_jar,
        line.alternatives,
        line.more,
        line.note,
    )


def _read_before(as_written: str, amount: Amount | None, name: str, form: str) -> Line | None:
    """One ingredient in the amount that was sent, if that is all that these words say in such a unit."""
    words = _plain_words(name, form, amount.unit.name if amount is not None else None)
    if words is None:
        return None
    counted = None if amount is None else _counted(amount)
    return Line(as_written, words.name, counted, words.form, words.optional, note=words.note)


@lru_cache(maxsize=8192)
def _plain_words(name: str, form: str, unit_name: str | None) -> Line | None:
    """How these words are read beside an amount in this unit, however large; None where they change the amount."""
    some = None if unit_name is None else Amount(Bounds.exactly(SOME), UNITS[unit_name], None, "")
    line = _line("", some, _pieces_of(name, form))
    if isinstance(line, Unread) or line.alternatives or line.more or line.per_jar:
        return None
    return line if line.amount == (None if some is None else _counted(some)) else None


def _sent(amount: Hashable, amount_max: Hashable, unit: Hashable) -> Amount | Unread:
    if isinstance(amount, Decimal) or isinstance(amount_max, Decimal):  # some that are no numbers have no hash
        return _measured(amount, amount_max, unit)
    return _measured_before(amount, amount_max, unit)


def _measured(amount: object, amount_max: object, unit: object) -> Amount | Unread:
    known = EACH if unit in (None, "") else unit_named(str(unit))
    if known is None:
        return Unread("", "The unit isn't one of a kitchen that we know.")
    low = _number(amount)
    high = low if amount_max is None else _number(amount_max)
    if low is None or high is None:
        return Unread("", "The amount isn't a number that a kitchen measures.")
    if high is not low and high < low:
        return Unread("", "The largest amount is below the smallest.")
    measure = Measure(Bounds(low, high), known)
    return Amount(measure.bounds, known, None, written(measure))


# Two cups are written again and again; True, 1 and 1.0 are three.
_measured_before = lru_cache(maxsize=2048, typed=True)(_measured)


def _number(value: object) -> Fraction | None:
    """The number sent, exactly; what can only be a third or a sixth in decimals is that third or sixth."""
    if isinstance(value, bool) or not isinstance(value, Number):
        return None
    if (plain := _in_decimals(value)) is not None:
        over, under = plain
    else:
        if isinstance(value, float | Decimal):
            decimal = Decimal(str(value))
            if not decimal.is_finite() or not 0 <= decimal < 10**LONGEST_WHOLE:
                return None
            value = round(decimal, DECIMAL_PLACES)
        over, under = value.as_integer_ratio()
    if not 0 <= over < under * 10**LONGEST_WHOLE:
        return None
    for parts in (3, 6) if under > NO_THIRD else ():
        nearest = (2 * over * parts + under) // (2 * under)
        if nearest % parts and 2000 * abs(nearest * under - over * parts) < under * parts:
            return Fraction(nearest, parts)
    return Fraction(over, under)


def _in_decimals(value: Number) -> tuple[int, int] | None:
    """A float as it is written, if that is a few decimals: 5 and 2 of 2.5; None of any other."""
    whole, point, places = repr(value).partition(".") if isinstance(value, float) else ("", "", "")
    if not (point and whole.isdecimal() and places.isdecimal() and len(places) <= DECIMAL_PLACES):
        return None
    return int(whole + places), 10 ** len(places)


def _pieces_of(name: str, form: str) -> tuple[_Piece, ...]:
    return (*_described(_pieces(name)), *_pieces(form))


def _pieces(text: str) -> tuple[_Piece, ...]:
    """A text cut at its commas, semicolons, colons, dashes and parentheses."""
    text = " ".join(text.split())
    if _CUTS.search(text) is None:
        return (_Piece(text, aside=False),) if text.strip(".") else ()
    pieces = (
        _Piece(part.strip(), aside=index % 2 == 1)
        for index, stretch in enumerate(_PARENTHESES.split(text))
        for part in _SEPARATOR.split(stretch)
    )
    return tuple(piece for piece in pieces if piece.text.strip("."))


def _described(pieces: Sequence[_Piece]) -> tuple[_Piece, ...]:
    """Words in front that only describe go with the name: "fresh, ripe tomatoes"."""
    if len(pieces) > 1 and not any(piece.aside for piece in pieces[:2]):
        first, second, *rest = pieces
        if frozenset(first.text.lower().split()) <= DESCRIBING - JOINING:
            return _described([_Piece(f"{first.text} {second.text}", aside=False), *rest])
    return tuple(pieces)


def _line(as_written: str, amount: Amount | None, pieces: tuple[_Piece, ...]) -> Line | Unread:
    try:
        return _Builder(as_written, amount).line(pieces)
    except _Unclear as reason:
        return Unread(as_written, str(reason))


class _Unclear(Exception):
    """Ends the reading of one line; never leaves this module."""


class _Builder:
    """One line while it is being read."""

    def __init__(self, as_written: str, amount: Amount | None) -> None:
        self.as_written = as_written
        self.amount = amount
        self.form: list[str] = []
        self.optional = False
        self.jar_size = ""
        self.note = ""
        self.instead: list[str] = []  # "lime juice" of "or lime juice"

    def line(self, pieces: tuple[_Piece, ...]) -> Line:
        title = next((piece for piece in pieces if not piece.aside), None)
        text = title.text.replace(" and/or ", " or ") if title else ""
        first, _, second = text.partition(" or ")
        if second and _PER_JAR.search(first) and _PER_JAR.search(second):  # each in its own amount
            text, self.instead = first, [second]
        text = self.without_added(self.without_purpose(self.without_figures(text)))
        shared = self.amount is not None and self.amount.unit.measured and text.startswith("each ")
        listed = shared or self.amount is None  # then what "and" joins are ingredients of their own
        self.unpack_amount()
        whole = text.removeprefix("each ") if shared else text
        text = self.without_description(whole)
        described = whole[: whole.find(text)]  # "bottled lemon or lime juice": both are bottled
        text, _, instead = text.partition(" or ")
        text, *more = text.split(" and ") if listed else (text,)
        for piece in pieces:
            if piece is not title:
                self.describe(piece, listed)
        if instead:
            with_head = _with_shared_head(text, instead)
            self.instead.insert(0, instead if with_head == text else described + instead)
            text = with_head
        name = self.name(text)
        amount = self.amount
        if amount is not None and "stick" in self.form and name in ("butter", "margarine"):
            amount = replace(amount, unit=BUTTER_STICK)
            self.form.remove("stick")
        alternatives = tuple(self.beside(other, name) for other in self.instead)
        line = Line(
            self.as_written,
            name,
            None if self.jar_size else amount,
            tuple(dict.fromkeys(self.form)),
            self.optional,
            self.per_jar(amount),
            tuple(each for line in alternatives for each in (replace(line, alternatives=()), *line.alternatives)),
            tuple(self.beside(other, name) for other in more),
            self.note,
        )
        taken = [phrase for phrase in self.form if phrase in TAKEN_FROM]
        if taken and amount is not None and amount.unit is EACH:
            form = tuple(phrase for phrase in line.form if phrase not in TAKEN_FROM)
            return _taken_from(replace(line, form=form), TAKEN_FROM[taken[0]])
        return line

    def unpack_amount(self) -> None:
        """Count pieces one by one; what kind of piece it is belongs to the form."""
        if self.amount is not None:
            unit = self.amount.unit
            self.amount = _counted(self.amount)
            if unit.piece:
                self.form.append(unit.name)

    def without_figures(self, text: str) -> str:
        """This text after taking out of it "per quart", "5 percent" and "to taste"."""
        text = text.strip(" .")
        if _FIGURES.search(text) is not None:
            text = self.without_jar(text)
            self.form += [size.strip().removesuffix(" of") for size in _SIZE.findall(text)]
            text = _SIZE.sub(" ", text)
            self.form += [f"{strength} percent" for strength in _PERCENT.findall(text)]
            text = " ".join(_PERCENT.sub(" ", text).split())
        if text.lower().endswith(UNMEASURED):
            for words in UNMEASURED:
                if f" {text.lower()}".endswith(f" {words}"):
                    self.note, text = words, text[: -len(words)].strip()
        return text

    def without_jar(self, text: str) -> str:
        """This text after taking out of it "per quart"."""
        jar = _PER_JAR.search(text)
        if jar is not None:
            text = text.replace(jar[0], "", 1).strip(" .")
        if (jar is not None and self.jar_size) or _PER.search(f"{text} ") is not None:
            raise _Unclear(JARS_UNCLEAR)
        if jar is not None:
            self.jar_size = _jar_size(jar)
        return text

    def without_purpose(self, text: str) -> str:
        """This text without "for the syrup" at its end, which goes to the form."""
        if text.lower().endswith(PURPOSES):
            for words in PURPOSES:
                if text.lower().endswith(f" {words}"):
                    self.form.append(words)
                    return text[: -len(words)].strip()
        return text

    def without_added(self, text: str) -> str:
        """This text without the "plus 2 tbsp" at its end, which goes to the amount."""
        added, amount = _ADDED.fullmatch(text), self.amount
        more = read_amount(added[2]) if added is not None else None
        if added is None or amount is None or not isinstance(more, Amount) or more.unit.container or amount.also:
            return text
        if more.unit.dimension is not amount.unit.dimension or not more.unit.spread.exact or not amount.unit.measured:
            return text
        self.amount = replace(amount, bounds=amount.bounds + more.bounds * (more.unit.factor / amount.unit.factor))
        return added[1]

    def without_description(self, text: str) -> str:
        """The name in this text: "peeled and cored" in front of it and "thinly sliced" after it go to the form."""
        words = text.split()
        start, end = 0, len(words)
        while start < end - 1 and words[start].lower().rstrip(".") in DESCRIBING and not _trade_name(words[start:end]):
            start += 1
        while end > start + 1 and words[end - 1].lower() in DESCRIBING:
            end -= 1
        self.form += [*_phrases(words[:start]), *_phrases(words[end:])]
        words = words[start:end]
        counted = self.amount is not None and self.amount.unit is EACH
        if len(words) > 1 and _singular(words[-1]).lower() in PIECES and words[-2].lower() not in JOINING:
            self.form.append(_singular(words.pop()).lower())
        elif len(words) > 1 and counted and _singular(words[0]).lower() in PIECES and words[1].lower() != "oil":
            self.form.append(_singular(words.pop(0)).lower())
            words = words[words[0] == "of" :]
        elif not words and self.form and self.form[0] in PIECES:
            words = [self.form.pop(0)]
        return " ".join(words)

    def describe(self, piece: _Piece, listed: bool) -> None:
        """Take in what stands after a comma or in parentheses."""
        if self.jar_size and piece.text.lower().startswith("or ") and _PER_JAR.search(piece.text):
            self.instead.append(piece.text[len("or ") :])
            return
        if (described := _only_described(piece.text)) is not None:
            self.form += described
            return
        text = self.without_figures(piece.text).strip(" .").lower()
        words = text.split()
        if not words or text == "or":  # "or to taste" leaves nothing else
            return
        if FOREIGN.intersection(words):
            raise _Unclear("Only US customary and metric kitchen measures are read, filled level.")
        if text in OPTIONAL:
            self.optional = True
        elif text == "up to" and self.amount is not None:
            self.amount = replace(self.amount, bounds=Bounds(Fraction(0), self.amount.bounds.high))
        elif words[0] == "or" and not DESCRIBING.issuperset(words):
            self.instead.append(text.removeprefix("or "))
        elif isinstance(answer := leading_amount(text), tuple) and answer[0].unit.measured:
            self.measure_again(answer[0], text, text[answer[1] :].split(), piece.aside)
        elif listed and not piece.aside and words[0] not in SHARES and not SAYING_NO_MORE.issuperset(words):
            raise _Unclear(TWO_INGREDIENTS)
        elif SAYING_NO_MORE.issuperset(words):
            self.form += _phrases(words)
        else:
            self.form.append(text)

    def measure_again(self, again: Amount, text: str, words: list[str], aside: bool) -> None:
        """Take in a measure that stands apart: a package's size, the same amount in another unit, or a share of it."""
        measure = Measure(again.bounds, again.unit)
        sized = self.amount is not None and not self.amount.unit.measured and self.amount.package_size is None
        if sized and self.amount is not None and (words == ["each"] or (not words and self.amount.unit.container)):
            self.amount = replace(self.amount, package_size=measure)
        elif self.amount is None and not words:
            self.amount = again
        elif aside and self.amount is not None and DESCRIBING.issuperset(words):
            if not words or again.unit.dimension is not self.amount.unit.dimension:  # 2 quarts whole for 4 cups crushed
                self.amount = replace(self.amount, also=(*self.amount.also, measure))
        elif aside or (words and words[0] in SHARES):
            self.form.append(text)
        else:
            raise _Unclear(TWO_INGREDIENTS)

    def name(self, text: str) -> str:
        words = text.lower().split()
        if FOREIGN.intersection(words):
            raise _Unclear("The measure in this line can't be read.")
        numerals = not text.isascii() and any(letter.isnumeric() for letter in text)
        if numerals or _NAME.fullmatch(text) is None:
            if _AMOUNT_WITHIN.search(text) is not None:
                raise _Unclear(TWO_INGREDIENTS)
            raise _Unclear("No ingredient can be read in this line." if words else "This line names no ingredient.")
        if VAGUE.intersection(words[:1]):
            raise _Unclear("Say how many or how much.")
        units = [unit_named(word) for word in words if len(word) > 1]
        counted = self.amount is not None and self.amount.unit is EACH
        if counted and any(unit is not None and unit.measured for unit in units):
            raise _Unclear("The measure in this line can't be read.")
        return " and ".join(_singular(part) for part in text.strip(" .").split(" and "))

    def per_jar(self, amount: Amount | None) -> PerJar | None:
        if not self.jar_size:
            return None
        if amount is None:
            raise _Unclear("Say how much goes into each jar.")
        return PerJar(amount, self.jar_size)

    def beside(self, text: str, name: str) -> Line:
        """Another ingredient named on this line: in its own amount if one is written, else in the same.

        An amount alone, for another jar, is of the same ingredient: "1 tbsp per pint or 2 tbsp per quart".
        """
        jar = _PER_JAR.search(text)
        again = None if jar is None else read_amount(text.replace(jar[0], "", 1))
        if jar is not None and isinstance(again, Amount):
            return Line(text, name, None, tuple(self.form), self.optional, PerJar(again, _jar_size(jar)))
        line = read_line(text) if leading_amount(text) else _line(text, self.amount, _pieces(text))
        if isinstance(line, Unread):
            raise _Unclear(line.reason)
        if self.jar_size and line.per_jar is None and line.amount is not None:
            line = replace(line, amount=None, per_jar=PerJar(line.amount, self.jar_size))
        return replace(line, optional=self.optional or line.optional, note=line.note or self.note)


def _counted(amount: Amount) -> Amount:
    """Pieces counted one by one, a dozen as twelve; any other amount as it is."""
    unit = amount.unit
    if unit is EACH or unit.measured or unit.container:
        return amount
    return replace(amount, bounds=amount.bounds * unit.factor, unit=EACH)


def _jar_size(jar: re.Match[str]) -> str:
    said = "-".join((jar["before"] or jar["after"]).lower().replace("-", " ").split())
    return JAR_SHORT.get(said, said)


def _trade_name(words: list[str]) -> bool:
    """Whether the first of these words is part of what the food is called, as in "ground beef"."""
    called = TRADE_NAMES.get(words[0].lower())
    return called is not None and _singular(words[-1]).lower() in called


@lru_cache(maxsize=1024)
def _only_described(text: str) -> tuple[str, ...] | None:
    """What a text says of how a food was prepared, where each of its words says nothing else: "peeled, thinly sliced".

    It begins no amount and no other food, and leaves neither out: None where there is more to be read in it.
    """
    words = text.strip(" .").lower().split()
    if not words or words[0] == "or" or not SAYING_NO_MORE.issuperset(words) or _may_say_how_much(text):
        return None
    return tuple(_phrases(words))


def _may_say_how_much(text: str) -> bool:
    return _FIGURES.search(text) is not None or leading_amount(text.strip(" .").lower()) is not None


def _phrases(words: list[str]) -> list[str]:
    """Descriptions one by one: "finely chopped" stays together, "peeled and cored" are two, "hot or cold" one."""
    text = " ".join(words).lower()
    if "or" in words:
        return [text]
    phrases, manner = [], ""
    for word in text.replace(" and ", " ").split():
        manner += f"{word} "
        if word not in MANNER:
            phrases.append(manner.strip())
            manner = ""
    return [*phrases, manner.strip()] if manner else phrases


def _with_shared_head(name: str, other: str) -> str:
    """ "lemon" as in "lemon or orange peel" is lemon peel."""
    words, head = other.split(), _singular(other.split()[-1])
    last = _singular(name).lower().split()[-1:]
    if STAND_ALONE.intersection(last) or (head == "pepper" and not PEPPER_KINDS.intersection(last)):
        return name
    if len(words) > 1 and head in SHARED_HEADS and _singular(name).split()[-1:] != [head]:
        return f"{name} {head}"
    return name


def _singular(text: str) -> str:
    """One of what this text names: "sour cherries" is sour cherry."""
    before, space, word = text.rpartition(" ")
    plain = word.lower()
    if plain in IRREGULAR:
        word = IRREGULAR[plain]
    elif plain in INVARIABLE or plain.endswith(("ss", "us", "is")) or len(word) < 4:
        pass
    elif plain.endswith("ies"):
        word = f"{word[:-3]}y"
    elif plain.endswith(("ches", "shes", "sses", "xes", "oes")):
        word = word[:-2]
    elif plain.endswith("s"):
        word = word[:-1]
    return f"{before}{space}{word}"

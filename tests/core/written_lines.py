"""Ingredient lines nobody would write, made of the pieces of those that people do."""

import time

from hypothesis import strategies as st

from service.core.measures.lines import Line, Unread, read_line

CAP_SECONDS = 1.0
LONGEST = 500  # characters; what a request may hold in one line
AMOUNTS = ["1", "4 1/2", "1/0", "0", "½", "1½", "1⅓-2", "2 to 3", "1,000", "1.5", "9**9**9", "-3", "1/2/3", "a dozen",
           "12x", "1e400", "٣", "two and a half", "about 7", "1-", "½½", "10 000", "1 1/2-2 1/2"]  # fmt: skip
UNITS = ["cups", "c.", "T", "t", "tbsp", "tsp.", "lb", "lbs.", "oz", "fl oz", "quart", "pint jar", "g", "kg", "ml", "l",
         "pouch (3 oz)", "bunch", "head", "240 F", "inch", "%", "pinch", "stick", "each", "per quart"]  # fmt: skip
WORDS = ["plums", "bottled lemon juice", "white vinegar (5 percent)", "sugar", "canning salt", "liquid pectin",
         "tomatoes, peeled", "or", "and", "plus", "to taste", "optional", "(", ")", "((", "[", ",", ";", ":", "*", "/",
         "-", "--", "–", "of", "with", "without", "no", "not", "per", "fruit and sugar", "juice of", "the juice from",
         "chopped", "crushed", "about", "equal parts", "from", "makes", "divided", "\n", "\t", "\u00a0", "\u200b",
         "\u202e", "é", "ﬁ", "ß", "İ", "🍅"]  # fmt: skip


def lines() -> st.SearchStrategy[str]:
    """Pieces in any order, one of them perhaps again and again; or any text at all."""
    piece = st.sampled_from(AMOUNTS + UNITS + WORDS) | st.text(max_size=6)
    some = st.lists(piece, max_size=14)
    joint = st.sampled_from([" ", "", ", ", " or "])
    mixed = st.builds(lambda pieces, by: by.join(pieces), some, joint)
    again = st.builds(lambda before, each, times, after: before + each * times + after, mixed, piece,
                      st.integers(2, 400), mixed)  # fmt: skip
    return (mixed | again | st.text(max_size=60)).map(lambda line: line[:LONGEST])


def read_in(line: str) -> float:
    """Read a line; the seconds of the processor that it took."""
    started = time.process_time()
    assert isinstance(read_line(line), Line | Unread)
    return time.process_time() - started

"""Words in plain letters."""

import unicodedata


def without_accents(text: str) -> str:
    """A text without its accents: a purée is a puree, a jalapeño a jalapeno."""
    if text.isascii():
        return text
    letters = unicodedata.normalize("NFKD", text)
    return "".join(letter for letter in letters if not unicodedata.combining(letter))

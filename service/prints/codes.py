"""Codes that a camera reads (ISO/IEC 18004): a link as squares, dark and light."""

from functools import lru_cache


@lru_cache(maxsize=64)
def squares(link: str) -> tuple[tuple[bool, ...], ...]:
    """The rows of a code with its quiet margin of four squares; up to 15 percent of it may be hidden or torn."""
    import segno

    code = segno.make_qr(link, error="m", boost_error=True)
    return tuple(tuple(bool(dark) for dark in row) for row in code.matrix_iter(border=4))


def path(link: str) -> tuple[int, str]:
    """The same as the side in squares and the path of an SVG."""
    lines = squares(link)
    drawn = "".join(
        f"M{column} {row}h1v1h-1z" for row, line in enumerate(lines) for column, dark in enumerate(line) if dark
    )
    return len(lines), drawn

"""Whatever stands in an ingredient's line is read or isn't, soon, and never breaks anything."""

from hypothesis import given, settings

from tests.core.written_lines import CAP_SECONDS, lines, read_in


@settings(max_examples=200)
@given(lines())
def test_any_line_is_read_within_a_second(line: str) -> None:
    """At length: `python -m tests.outside.fuzz lines`."""
    assert read_in(line) < CAP_SECONDS

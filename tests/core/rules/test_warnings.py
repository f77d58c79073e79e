"""Published warnings, each as one precise change of a tested recipe or as a recipe of its own.

The publication stands beside each warning in `tests/data/published_warnings.jsonl`.
"""

import pytest

from tests.checks.tally import is_stopped
from tests.checks.tested_recipes import Body, warnings_to_try


@pytest.mark.parametrize("warning", warnings_to_try(), ids=lambda warning: warning["id"])
def test_what_a_publication_warns_of_is_stopped(warning: Body) -> None:
    stopped, answer = is_stopped(warning)
    said = [f"{finding.rule} ({finding.severity})" for finding in answer.findings]
    assert stopped, f"{warning['statement']} Expected {warning['expected']}, got {answer.verdict}: {said}"

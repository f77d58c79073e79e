"""How many tested recipes are ready and how many published warnings are stopped: `python -m tests.checks.tally`."""

import sys
from collections import Counter

from service.checks.bodies import CheckAnswer, RecipeCheckRequest
from service.checks.checking import check_recipe
from service.core.rules.findings import Severity
from tests.checks.tested_recipes import Body, Cell, body_of, body_warned_of, cells, warnings_to_try

ORDER = [severity.value for severity in Severity]


def answered(body: Body) -> CheckAnswer:
    return check_recipe(RecipeCheckRequest.model_validate(body), body["altitude_ft"])


def is_ready(cell: Cell, *, as_lines: bool) -> tuple[bool, CheckAnswer]:
    given = answered(body_of(cell, as_lines=as_lines))
    expected = "published" if cell.figures is not None else "not-canned"
    return given.verdict == "ready" and given.process.status == expected, given


def is_stopped(warning: Body) -> tuple[bool, CheckAnswer]:
    given = answered(body_warned_of(warning))
    worst = min((ORDER.index(finding.severity) for finding in given.findings), default=len(ORDER))
    return given.verdict != "ready" and worst <= ORDER.index(warning["expected"]), given


def main() -> None:
    verbose = "-v" in sys.argv
    ready = total = 0
    why: Counter[str] = Counter()
    recipes: dict[str, set[str]] = {}
    for cell in cells():
        for as_lines in (False, True):
            total += 1
            passed, given = is_ready(cell, as_lines=as_lines)
            ready += passed
            if not passed:
                reasons = {f"{finding.rule} ({finding.severity}): {finding.message}" for finding in given.findings}
                for reason in reasons or {f"status {given.process.status}"}:
                    why[reason] += 1
                    recipes.setdefault(reason, set()).add(str(cell) if verbose else cell.recipe.id)
    print(f"ready cells, both input forms: {ready} of {total}")
    for reason, count in why.most_common():
        print(f"  {count:4} {reason}\n       {', '.join(sorted(recipes[reason])[:12])}")
    stopped = 0
    warned = warnings_to_try()
    for warning in warned:
        passed, given = is_stopped(warning)
        stopped += passed
        if not passed:
            said = "; ".join(f"{finding.rule} ({finding.severity})" for finding in given.findings) or "nothing"
            print(f"  not stopped: {warning['id']} expects {warning['expected']}, {given.verdict}: {said}")
    print(f"warnings stopped: {stopped} of {len(warned)}")


if __name__ == "__main__":
    main()

"""What a rule is, and what it may say."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from service.core.measures.bounds import Bounds
from service.core.measures.terms import Term
from service.core.measures.values import value
from service.core.rules.facts import Severity as Severity
from service.core.rules.scope import EitherScope, Scope

if TYPE_CHECKING:
    from service.core.rules.case import Case


class Verdict(Term):
    READY = "ready"
    REVISE = "revise"
    UNTESTED = "untested"
    UNSAFE = "unsafe"


@value(frozen=True, slots=True)
class Measured:
    """An amount as found, or a limit as published: a low-high interval with its unit."""

    bounds: Bounds
    unit: str


@value(frozen=True, slots=True)
class Finding:
    """What a rule found. The rule itself adds its id, area, severity and source."""

    message: str
    fix: str
    where: str | None = None  # JSON pointer into the request, such as #/ingredients/1
    measured: Measured | None = None
    limit: Measured | None = None
    severity: Severity | None = None  # only where a rule may find less than its worst


@value(frozen=True, slots=True)
class Note:
    """An allowed difference, or a longer time: said, but no finding."""

    message: str


Judge = Callable[["Case"], Iterator[Finding | Note]]


EVERYTHING = Scope()


@dataclass(frozen=True, slots=True)
class Rule:
    """One published statement. Its source stands in the catalogue under the same id."""

    id: str
    says: str
    severity: Severity
    judge: Judge
    skipped_for_tested_formula: bool = False
    scope: Scope | EitherScope = EVERYTHING


def rule(
    id: str,
    says: str,
    severity: Severity,
    scope: Scope | EitherScope = EVERYTHING,
    *,
    skipped_for_tested_formula: bool = False,
) -> Callable[[Judge], Rule]:
    """Make a function a rule: `id` is the catalogue's, `says` the statement in one plain sentence.

    Outside of its `scope` it has nothing to say, and isn't asked. A rule with `skipped_for_tested_formula` computes
    something about the set; it doesn't judge a formula that equals a tested recipe's.
    """

    def wrap(judge: Judge) -> Rule:
        return Rule(id, says, severity, judge, skipped_for_tested_formula, scope)

    return wrap


def worst(severities: list[Severity]) -> Verdict:
    """The worst finding decides the verdict."""
    if Severity.UNSAFE in severities:
        return Verdict.UNSAFE
    if Severity.UNTESTED in severities:
        return Verdict.UNTESTED
    if any(severity is not Severity.PAPERWORK for severity in severities):
        return Verdict.REVISE
    return Verdict.READY

"""Every rule of the kitchen, by hand, in the order a verdict shows them."""

from service.core.rules import coverage
from service.core.rules.findings import Rule

RULES: tuple[Rule, ...] = (*coverage.RULES,)

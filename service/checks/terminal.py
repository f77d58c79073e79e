"""A check as plain text for somebody at a stove: the verdict first, then what to change, then the process."""

from collections.abc import Iterator
from textwrap import wrap

from service.checks.bodies import CheckAnswer, FindingShown, Interval
from service.published.bodies import PublishedProcess

WIDTH = 78
VERDICTS = {
    "ready": "READY. Published figures cover this recipe as it is written.",
    "revise": "REVISE. It can be made ready: change what is listed below.",
    "untested": "UNTESTED. Nothing published covers it: don't can it. Refrigerate or freeze it instead.",
    "unsafe": "UNSAFE. Don't can it as it is written.",
}
METHODS = {
    "boiling-water": "boiling-water canner",
    "atmospheric-steam": "atmospheric steam canner",
    "pressure-dial": "pressure canner, dial gauge",
    "pressure-weighted": "pressure canner, weighted gauge",
}


def told(check: CheckAnswer, title: str, altitude_ft: int) -> str:
    """The whole check, ready to print."""
    return "\n".join(_lines(check, title, altitude_ft)) + "\n"


def _lines(check: CheckAnswer, title: str, altitude_ft: int) -> Iterator[str]:
    yield from _wrapped(VERDICTS[check.verdict], "")
    yield ""
    yield from _wrapped(f"{title}, at {altitude_ft:,} ft", "")
    made = [word for word in (check.family, check.product) if word]
    if made:
        yield f"Taken as {', '.join(made)}"
    if check.findings:
        yield from ("", "What to change")
        for number, finding in enumerate(check.findings, start=1):
            yield from _finding(number, finding)
    if check.notes:
        yield from ("", "Good to know")
        for note in check.notes:
            yield from _wrapped(note, "  - ")
    yield from ("", "Process")
    yield from _process(check)
    if check.expected_yield is not None and check.expected_yield.jars:
        jars = ", ".join(f"{_range(jars.count)} {jars.size}" for jars in check.expected_yield.jars)
        yield from ("", f"Fills about: {jars}")
    if check.tested_recipe is not None:
        yield from ("", f"Nearest tested recipe: {check.tested_recipe.title}")
        for difference in check.tested_recipe.differences:
            yield from _wrapped(difference, "  - ")
    yield ""
    yield from _wrapped(check.notice, "")
    yield f"Rulebook {check.rulebook}"


def _finding(number: int, finding: FindingShown) -> Iterator[str]:
    yield from _wrapped(f"{finding.severity.upper()}: {finding.message}", f" {number:2}. ")
    if finding.where is not None and finding.where.startswith("#/ingredients/"):
        place = finding.where.removeprefix("#/ingredients/")
        if place.isdigit():
            yield f"     at ingredient {int(place) + 1}"
    yield from _wrapped(finding.fix, "     Do: ")
    yield from _wrapped(f"{finding.source.title}, {finding.source.publisher}", "     From: ")


def _process(check: CheckAnswer) -> Iterator[str]:
    if check.process.status == "not-canned":
        yield "  Kept cold; nothing to process."
    elif not check.process.options:
        yield "  None is published for this food as it is written."
    for option in check.process.options:
        yield from _wrapped(_option(option), "  - ")


def _option(option: PublishedProcess) -> str:
    pressure = "" if option.pressure_psi is None else f" at {option.pressure_psi} psi"
    pack = "hot or raw pack" if option.pack == "either" else f"{option.pack} pack"
    headspace = "" if option.headspace_in is None else f", {option.headspace_in:g} in headspace"
    sterile = ", jars sterilised first" if option.sterile_jars else ""
    sizes = " or ".join(option.jar_sizes)
    how = METHODS.get(option.method, option.method)
    return f"{sizes}, {pack}: {option.minutes} min{pressure}, {how}{headspace}{sterile}"


def _range(count: Interval) -> str:
    low = f"{count.low or 0:.1f}".removesuffix(".0")
    high = "more" if count.high is None else f"{count.high:.1f}".removesuffix(".0")
    return low if low == high else f"{low} to {high}"


def _wrapped(text: str, before: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent=before, subsequent_indent=" " * len(before)) or [before.rstrip()]

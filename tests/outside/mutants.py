"""Whether the tests would notice a mistake: `python -m tests.outside.mutants [--sample N] [--seed S] [--module M]`.

Every module of core/rules and core/measures is changed in one place at a time, by the operators of Cosmic Ray, and the
tests that know the module run against the change. A change that no test notices has survived; `survivors.csv` says why
some may. Needs the extra `proof`. Files are never touched: a forked process runs the changed source from memory.

Some places are never changed, as no change of them makes a mistake: annotations, which nothing runs; the arguments of
`dataclass` and `lru_cache` and the `strict` of `zip`, which only guard and remember; `==` and `!=` beside a word made
into an order of words.
"""

import argparse
import ast
import csv
import difflib
import gc
import importlib
import importlib.util
import json
import os
import random
import re
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.operators.provider import OperatorProvider
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).parents[2]
PACKAGES = ("measures", "rules")
EXPLAINED = Path(__file__).parent / "survivors.csv"

# The tests of a module that has none of its own name, quickest first.
OWN = {
    "case": ("check", "nearest"),
    "check": ("check", "invariants"),
    "coverage": ("coverage", "untested_food", "check"),
    "facts": ("processes",),
    "findings": ("check",),
    "formula": ("formula", "yields", "sugar_and_pectin"),
    "gels": ("sugar_and_pectin",),
    "jars": ("units", "lines"),
    "pectin": ("sugar_and_pectin",),
    "permitted": ("permitted", "substitution"),
    "printed": ("processes", "heat"),
    "product": ("product", "told_apart"),
    "proportions": ("acid",),
    "reading": ("reading", "ingredients"),
    "rulebook": ("rulebook",),
    "spreads": ("sugar_and_pectin",),
    "sweeteners": ("sugar_and_pectin",),
}
WHOLE = (
    "test_edges.py",
    "test_edges_of_heat.py",
    "test_edges_of_mixtures.py",
    "test_edges_of_spreads.py",
    "test_values.py",
    "test_figures_beside_rules.py",
    "test_warnings.py",
    "test_check.py",
    "test_what_findings_show.py",
)
LONG = ("test_tested_recipes.py", "test_edits.py", "test_invariants.py", "test_yields.py")
OPERATORS = OperatorProvider()
SURVIVED, KILLED, BROKEN = 0, 1, 2
MOST_BYTES = 4 << 30  # what a mutant may take: a power in place of a product has no end

# Left out, as Cosmic Ray's own guide advises: for words and small numbers `is` and `==` agree by chance.
BY_CHANCE = re.compile(r"ReplaceComparisonOperator_(Is(Not)?_(Eq|NotEq|Lt|LtE|Gt|GtE)|\w+?_Is(Not)?)$")

IN_ORDER = re.compile(r"ReplaceComparisonOperator_(Eq|NotEq)_(Lt|LtE|Gt|GtE)$")
# Fields that hold one word.
WORDS = frozenset({"group", "family", "product", "method", "kind", "storage", "id", "pack", "size"})


Key = tuple[str, str, str, str]


@dataclass(frozen=True)
class Mutant:
    """One change of one module."""

    module: str
    line: int
    function: str  # "" for the module itself
    operator: str
    before: str
    after: str
    code: str

    @property
    def key(self) -> Key:
        return self.module, self.function, self.before, self.after


def modules() -> list[str]:
    """Dotted names, measures first."""
    return [
        f"service.core.{package}.{path.stem}"
        for package in PACKAGES
        for path in sorted((ROOT / "service/core" / package).glob("*.py"))
        if path.stem != "__init__"
    ]


def path_of(module: str) -> Path:
    return ROOT / (module.replace(".", "/") + ".py")


def places(module: str) -> list[tuple[str, int, int]]:
    """Every operator, occurrence and line that can be changed to a mistake."""
    source = path_of(module).read_text(encoding="utf-8")
    nodes = list(ast_nodes(get_ast(source)))
    harmless, words = annotations(source) + guards(source), comparisons_with_words(source)
    found = []
    for name in OPERATORS:
        kind = OPERATORS[name]
        if kind.arguments() or BY_CHANCE.search(name):
            continue
        starts = (start for node in nodes for start, _ in kind().mutation_positions(node))
        unrun = harmless + words if IN_ORDER.search(name) else harmless
        found += [
            (name, occurrence, start[0])
            for occurrence, start in enumerate(starts)
            if not any(first <= start < last for first, last in unrun)
        ]
    return found


def mutant(module: str, operator: str, occurrence: int, line: int) -> Mutant:
    source = path_of(module).read_text(encoding="utf-8")
    code = mutate_code(source, OPERATORS[operator](), occurrence)
    before, after = changed_lines(source, code)
    return Mutant(module, line, function_at(source, line), operator, before, after, code)


def function_at(source: str, line: int) -> str:
    """The innermost function that holds this line."""
    found = ""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef) and node.lineno <= line <= (node.end_lineno or 0):
            found = node.name
    return found


Place = tuple[int, int]  # line, column


def annotations(source: str) -> list[tuple[Place, Place]]:
    found = []
    for node in ast.walk(ast.parse(source)):
        for name in ("annotation", "returns"):
            each = getattr(node, name, None)
            if isinstance(each, ast.expr):
                found.append(((each.lineno, each.col_offset), (each.end_lineno or 0, each.end_col_offset or 0)))
    return found


def guards(source: str) -> list[tuple[Place, Place]]:
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.keyword) and node.arg == "strict":
            found.append(((node.lineno, node.col_offset), (node.end_lineno or 0, node.end_col_offset or 0)))
        for each in getattr(node, "decorator_list", ()):
            if (
                isinstance(each, ast.Call)
                and isinstance(each.func, ast.Name)
                and each.func.id in ("dataclass", "lru_cache")
            ):
                found.append(((each.lineno, each.col_offset), (each.end_lineno or 0, each.end_col_offset or 0)))
    return found


def names_of_words(tree: ast.Module) -> set[str]:
    """The names that a module gives to single words."""
    pairs: list[tuple[ast.expr, ast.expr]] = []
    for node in tree.body:
        for target in node.targets if isinstance(node, ast.Assign) else ():
            if isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple):
                pairs += zip(target.elts, node.value.elts, strict=False)
            else:
                pairs.append((target, node.value))
    return {
        name.id
        for name, value in pairs
        if isinstance(name, ast.Name) and isinstance(value, ast.Constant) and isinstance(value.value, str)
    }


def comparisons_with_words(source: str) -> list[tuple[Place, Place]]:
    found = []
    tree = ast.parse(source)
    names = names_of_words(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare) and any(
            (isinstance(side, ast.Constant) and isinstance(side.value, str))
            or (isinstance(side, ast.Name) and side.id in names)
            or (isinstance(side, ast.Attribute) and side.attr in WORDS)
            for side in (node.left, *node.comparators)
        ):
            found.append(((node.lineno, node.col_offset), (node.end_lineno or 0, node.end_col_offset or 0)))
    return found


def changed_lines(source: str, code: str) -> tuple[str, str]:
    """The lines that differ, as they were and as they are."""
    old, new = source.splitlines(), code.splitlines()
    (_, first, last, start, stop) = next(
        block for block in difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes() if block[0] != "equal"
    )
    return " ".join(" ".join(old[first:last]).split()), " ".join(" ".join(new[start:stop]).split())


def stages(module: str) -> list[list[str]]:
    """The module's own tests, those of the whole check, the other quick ones of the core, then the long ones."""
    package, stem = module.split(".")[-2:]
    here = ROOT / "tests/core"
    own = [here / package / f"test_{name}.py" for name in OWN.get(stem, (stem,))]
    others = [*sorted((here / package).glob("test_*.py")), *sorted(here.glob("[mr]*s/test_*.py"))]
    others = [here / "test_values.py", *(path for path in dict.fromkeys(others) if path not in own)]
    whole = [*(path for path in others if path.name in WHOLE), ROOT / "tests/checks/test_edits_of_members.py"]
    long = [path for path in others if path.name in LONG]
    quick = [path for path in others if path not in whole + long]
    return [[str(path) for path in stage] for stage in (own, whole, quick, long)]


def preload() -> None:
    """Load everything once: a fork then loads the changed module again and what stands on it, nothing else."""
    importlib.import_module("service.published.loading").facts()
    importlib.import_module("service.checks.checking")
    quiet = list(HealthCheck)
    settings.register_profile("mutants", derandomize=True, database=None, deadline=None, suppress_health_check=quiet)
    settings.load_profile("mutants")
    gc.collect()
    gc.freeze()


def imported_by(module: str) -> set[str]:
    """The loaded modules of ours that this one's source names in an import."""
    found = set()
    for node in ast.walk(ast.parse(Path(sys.modules[module].__file__ or "").read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def forget_what_stands_on(module: str) -> None:
    ours = {name: imported_by(name) for name in sys.modules if name.startswith("service.")}
    stale = {module}
    while more := {name for name, needs in ours.items() if name not in stale and needs & stale}:
        stale |= more
    for name in stale & set(ours):
        parent, _, leaf = name.rpartition(".")
        vars(sys.modules[parent]).pop(leaf, None)
    for name in stale & set(ours):
        del sys.modules[name]


def install(module: str, code: str) -> None:
    """Make the changed source the module of that name."""
    forget_what_stands_on(module)
    spec = importlib.util.find_spec(module)
    assert spec is not None
    made = importlib.util.module_from_spec(spec)
    sys.modules[module] = made
    exec(compile(code, str(path_of(module)), "exec"), vars(made))
    parent, _, leaf = module.rpartition(".")
    setattr(sys.modules[parent], leaf, made)


@contextmanager
def at_most(cpu_seconds: float) -> Iterator[None]:
    """End this process once it has worked that long: a loop without an end is noticed too."""
    signal.setitimer(signal.ITIMER_PROF, cpu_seconds)
    yield
    signal.setitimer(signal.ITIMER_PROF, 0)


def run(module: str, code: str, allowed_seconds: Sequence[float], pipe: int) -> int:
    """In a fork: the stages one after the other, until one fails."""
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    try:
        with at_most(10):
            install(module, code)
    except BaseException:
        traceback.print_exc()
        return KILLED
    for stage, seconds in zip(stages(module), allowed_seconds, strict=False):
        started = time.process_time()
        with at_most(seconds):
            failed = pytest.main(["-x", "-q", "--noconftest", "-p", "no:cacheprovider", "--rootdir", str(ROOT), *stage])
        os.write(pipe, f"{time.process_time() - started}\n".encode())
        if failed:
            return KILLED
    return SURVIVED


@dataclass(frozen=True)
class Tried:
    """What became of a change, what each stage took, and what was printed meanwhile."""

    became: str
    seconds: list[float]
    said: str


def forked(module: str, code: str, allowed_seconds: Sequence[float]) -> Tried:
    reading, writing = os.pipe()
    with tempfile.TemporaryFile("w+") as said:
        pid = os.fork()
        if pid == 0:
            status = BROKEN
            try:
                os.close(reading)
                for stream in (1, 2):
                    os.dup2(said.fileno(), stream)
                status = run(module, code, allowed_seconds, writing)
                sys.stdout.flush()
            finally:
                os._exit(status)
        os.close(writing)
        with os.fdopen(reading) as lines:
            seconds = [float(line) for line in lines]
        _, status = os.waitpid(pid, 0)
        said.seek(0)
        if os.WIFSIGNALED(status):
            became = "timed out" if os.WTERMSIG(status) == signal.SIGPROF else "killed"
        else:
            became = {SURVIVED: "survived", KILLED: "killed"}[os.WEXITSTATUS(status)]
        return Tried(became, seconds, said.read())


def explained() -> dict[Key, str]:
    if not EXPLAINED.exists():
        return {}
    with EXPLAINED.open(encoding="utf-8", newline="") as file:
        return {
            (f"service.core.{row['module']}", row["function"], row["before"], row["after"]): row["reason"]
            for row in csv.DictReader(file)
        }


def sampled(module: str, sample: int | None, seed: int) -> list[Mutant]:
    """As many as asked for, drawn without order; a larger sample holds the smaller one."""
    drawn = places(module)
    random.Random(f"{seed} {module}").shuffle(drawn)
    return [mutant(module, *place) for place in drawn[:sample]]


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sample", type=int, help="mutants of each module; all of them if left out")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--module", action="append", help="measures.bounds, say; every module if left out")
    asked.add_argument("--stages", type=int, default=4, choices=(1, 2, 3, 4), help="1: only the module's own tests")
    asked.add_argument("--results", type=Path, help="a file of JSON lines: what was killed before isn't tried again")
    given = asked.parse_args()
    wanted = [
        module for module in modules() if not given.module or module.removeprefix("service.core.") in given.module
    ]
    known: dict[Key, str] = {}
    if given.results and given.results.exists():
        with given.results.open(encoding="utf-8") as lines:
            known = {tuple(line["key"]): line["became"] for line in map(json.loads, lines)}  # type: ignore[misc]
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    os.chdir(ROOT)
    reasons = explained()
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    preload()
    for module in wanted:
        started = time.monotonic()
        unchanged = forked(module, path_of(module).read_text(encoding="utf-8"), [600] * given.stages)
        if unchanged.became != "survived":
            print(f"{unchanged.said}\n{module}: the tests fail without any change")
            return 1
        allowed = [10 + 4 * seconds for seconds in unchanged.seconds]
        for change in sampled(module, given.sample, given.seed):
            became = known.get(change.key, "")
            if became not in ("killed", "timed out"):
                became = forked(module, change.code, allowed).became
                if given.results:
                    with given.results.open("a", encoding="utf-8") as file:
                        file.write(json.dumps({"key": change.key, "became": became}) + "\n")
            if became == "survived" and change.key in reasons:
                became = "explained"
            counts[module][became] += 1
            if became == "survived":
                print(f"{path_of(module).relative_to(ROOT)}:{change.line} {change.operator}")
                print(f"    - {change.before}\n    + {change.after}", flush=True)
        print(f"{module}: {dict(counts[module])} in {time.monotonic() - started:.0f} s", flush=True)
    show(counts)
    return 0


def show(counts: dict[str, Counter[str]]) -> None:
    columns = ("killed", "timed out", "explained", "survived")
    print(f"\n{'module':28} {'tried':>7} " + " ".join(f"{column:>9}" for column in columns) + "   score")
    for module, count in [*counts.items(), ("together", sum(counts.values(), Counter[str]()))]:
        noticed = count["killed"] + count["timed out"]
        tried = count.total()
        score = f"{100 * noticed / (tried - count['explained'] or 1):6.1f} %"
        each = " ".join(f"{count[column]:9}" for column in columns)
        print(f"{module.removeprefix('service.core.'):28} {tried:7} {each} {score}")


if __name__ == "__main__":
    sys.exit(main())

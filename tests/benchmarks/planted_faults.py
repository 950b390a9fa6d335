"""
How many small faults, planted one at a time in the pure folders, the tests that mirror them let live.

A fault is one change of one line: a comparison turned or moved by one, + for −, min for max, a `not` dropped, a
constant one higher, a condition that always or never holds, a filter or a statement left out, nothing returned. Each
is planted in a forked child that never writes a file; there the tests that mirror the module and need no database run
until one fails. At least one fault stands in each module, the rest wherever there is something to change. The same
seed plants the same faults.

A child has a time limit of several times what the same tests take without a fault; what does not end counts as noticed
and is told as "hung".

Run: python -m tests.benchmarks.planted_faults [how many, 200] [seed, 1] [of them in reels, say]
"""

import ast
import copy
import importlib.abc
import importlib.util
import os
import random
import resource
import signal
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from time import monotonic

from tests.source import ROOT, is_pure, modules, pure_folders

TIMES, LEAST = 4, 30  # s of CPU a child may use: so many times what the tests take without a fault, at least this
MEMORY = 6 << 30  # bytes
PASSED = {0, 5}  # pytest says 5 where there is no test at all
NO_DATABASE = "not django_db and not browser and not office"
NO_PROCESS = "not another_process"  # a process of its own knows of no fault

COMPARISONS = {
    ast.Lt: (ast.LtE, ast.Gt), ast.LtE: (ast.Lt, ast.GtE), ast.Gt: (ast.GtE, ast.Lt), ast.GtE: (ast.Gt, ast.LtE),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.In: (ast.NotIn,), ast.NotIn: (ast.In,),
    ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,),
}  # fmt: skip
OPERATORS = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Add, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult, ast.Mod: ast.Add,
}  # fmt: skip
CALLS = {"min": "max", "max": "min", "floor": "ceil", "ceil": "floor", "any": "all", "all": "any"}


@dataclass(frozen=True)
class Fault:
    """One change: `number` is its place among all of its module's."""

    module: str
    path: Path
    number: int
    line: int
    what: str

    def __str__(self) -> str:
        return f"{self.path.relative_to(ROOT)}:{self.line} {self.what}"


def changes(tree: ast.Module) -> Iterator[tuple[ast.AST, str, Callable[[], None]]]:
    """Every change that can be made to a tree: where, in words, and the act that makes it."""
    told = silent(tree)
    for node in ast.walk(tree):
        if id(node) in told:
            continue
        match node:
            case ast.Compare():
                for place, sign in enumerate(node.ops):
                    for other in COMPARISONS[type(sign)]:
                        yield node, f"{name(sign)} -> {name(other)}", put(node.ops, place, other())
            case ast.BinOp() | ast.AugAssign() if type(node.op) in OPERATORS:
                other = OPERATORS[type(node.op)]
                yield node, f"{name(node.op)} -> {name(other)}", setter(node, "op", other())
            case ast.BoolOp():
                other = ast.Or if isinstance(node.op, ast.And) else ast.And
                yield node, f"{name(node.op)} -> {name(other)}", setter(node, "op", other())
            case ast.Call(func=ast.Name(id=called)) if called in CALLS:
                yield node, f"{called} -> {CALLS[called]}", setter(node.func, "id", CALLS[called])
            case ast.Constant(value=bool()):
                yield node, f"{node.value} -> {not node.value}", setter(node, "value", not node.value)
            case ast.Constant(value=int() | float()):
                yield node, f"{node.value} -> {node.value + 1}", setter(node, "value", node.value + 1)
            case ast.If() | ast.IfExp() | ast.While():
                for always in (True, False):
                    if always and isinstance(node, ast.While):
                        continue  # it only hangs
                    yield node, f"condition always {always}", setter(node, "test", ast.Constant(always))
            case ast.comprehension(ifs=[_, *_]):
                yield node.ifs[0], "filter left out", setter(node, "ifs", node.ifs[1:])
            case ast.Return(value=ast.expr()):
                yield node, "returns nothing", setter(node, "value", None)
            case _:
                pass
        for field, inner in ast.iter_fields(node):
            for place, child in enumerate(inner if isinstance(inner, list) else [inner]):
                if id(child) in told:
                    continue
                if isinstance(child, ast.UnaryOp) and isinstance(child.op, ast.Not | ast.USub):
                    act = put(inner, place, child.operand) if inner is not child else setter(node, field, child.operand)
                    yield child, f"{name(child.op)} left out", act
                elif isinstance(child, ast.AugAssign | ast.Raise) or (
                    isinstance(child, ast.Expr) and isinstance(child.value, ast.Call)
                ):
                    yield child, f"{name(child)} left out", put(inner, place, ast.Pass())


def silent(tree: ast.Module) -> set[int]:
    """Parts that decide nothing: annotations, docstrings, decorators, imports, what errors say, debug asserts."""
    roots: list[ast.AST] = []
    for node in ast.walk(tree):
        match node:
            case ast.FunctionDef() | ast.ClassDef():
                roots += node.decorator_list
                roots += [node.returns] if isinstance(node, ast.FunctionDef) and node.returns else []
            case ast.arg(annotation=ast.expr()):
                roots.append(node.annotation)
            case ast.AnnAssign():
                roots.append(node.annotation)
            case ast.Import() | ast.ImportFrom() | ast.Assert():
                roots.append(node)
            case ast.If() if "TYPE_CHECKING" in ast.unparse(node.test):
                roots.append(node)
            case ast.Raise(exc=ast.Call()):
                roots += node.exc.args
            case _:
                pass
    return {id(part) for root in roots for part in ast.walk(root)}


def name(sign: ast.AST | type) -> str:
    return (sign if isinstance(sign, type) else type(sign)).__name__


def put(parts: list, place: int, new: object) -> Callable[[], None]:
    return lambda: parts.__setitem__(place, new)


def setter(node: ast.AST, field: str, new: object) -> Callable[[], None]:
    return lambda: setattr(node, field, new)


def faults_of(module: str, path: Path) -> list[Fault]:
    tree = ast.parse(path.read_text())
    return [
        Fault(module, path, number, node.lineno, what)
        for number, (node, what, _) in enumerate((node, what, act) for node, what, act in changes(tree))
    ]


def planted(fault: Fault) -> ast.Module:
    """The module's tree with the fault in it."""
    tree = copy.deepcopy(ast.parse(fault.path.read_text()))
    list(changes(tree))[fault.number][2]()
    return ast.fix_missing_locations(tree)


class Planter(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives out one module with its fault; every other module comes as it is."""

    def __init__(self, fault: Fault):
        self.fault = fault

    def find_spec(self, fullname, path=None, target=None):
        if fullname != self.fault.module:
            return None
        return importlib.util.spec_from_file_location(fullname, self.fault.path, loader=self)

    def create_module(self, spec):
        return None

    def exec_module(self, module):
        exec(compile(planted(self.fault), str(self.fault.path), "exec"), module.__dict__)


def mirrors(path: Path) -> list[Path]:
    """
    The tests that mirror a module, those of its own name first.

    They are all tests of its folder, and of the folders above it as far as those are pure; where there are none, those
    of the nearest folder above that has any.
    """
    pure, found = pure_folders(), []
    for folder in path.parents:
        if found and pure.isdisjoint({folder, *folder.parents}):
            break
        found += sorted((ROOT / "tests" / folder.relative_to(ROOT)).glob("test_*.py"))
    return sorted(found, key=lambda test: test.name != f"test_{path.name}")


def run_tests(tests: list[Path], fault: Fault | None, seconds: float) -> tuple[str, float]:
    """Run tests in a child with the fault in place: `passed`, `failed` or `hung`, and the seconds of CPU it took."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    child = os.fork()
    if child == 0:
        try:
            os._exit(in_child(tests, fault, seconds))
        except BaseException:
            os._exit(9)
    end = monotonic() + 6 * seconds
    ended, status = os.waitpid(child, os.WNOHANG)
    while not ended:
        if monotonic() > end:  # it waits for something
            os.kill(child, signal.SIGKILL)
            ended, status = os.waitpid(child, 0)
            break
        signal.sigtimedwait([signal.SIGCHLD], 0.5)
        ended, status = os.waitpid(child, os.WNOHANG)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    took = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    if os.WIFSIGNALED(status):
        return "hung", took
    return ("passed" if os.WEXITSTATUS(status) in PASSED else "failed"), took


def in_child(tests: list[Path], fault: Fault | None, seconds: float) -> int:
    import pytest
    from hypothesis import HealthCheck, Phase, settings

    resource.setrlimit(resource.RLIMIT_CPU, (int(seconds), int(seconds) + 5))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 1)
    os.dup2(nothing, 2)
    # A found example need not be made small, and a busy machine is no fault.
    settings.register_profile(
        "planted", deadline=None, derandomize=True, database=None, phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    settings.load_profile("planted")
    if fault:
        sys.meta_path.insert(0, Planter(fault))
    return int(
        pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-m", NO_DATABASE, "-k", NO_PROCESS, *map(str, tests)])
    )


def chosen(many: int, seed: int) -> list[Fault]:
    """At least one fault of every module, the rest drawn from all."""
    of_modules = [faults_of(module, path) for module, path in modules() if is_pure(path)]
    rng = random.Random(seed)
    first = [rng.choice(faults) for faults in of_modules if faults]
    rest = [fault for faults in of_modules for fault in faults if fault not in first]
    more = rng.sample(rest, max(0, min(many - len(first), len(rest))))
    return sorted([*first, *more], key=lambda fault: (fault.module, fault.number))


def main() -> None:
    many, seed = int(sys.argv[1]) if len(sys.argv) > 1 else 200, int(sys.argv[2]) if len(sys.argv) > 2 else 1
    begin = sys.argv[3] if len(sys.argv) > 3 else ""
    faults = [fault for fault in chosen(many, seed) if fault.module.startswith(begin)]
    # Children start with what never changes.
    import django.test  # noqa: F401
    import highspy  # noqa: F401
    import hypothesis  # noqa: F401
    import openpyxl  # noqa: F401
    import pint  # noqa: F401
    import pytest  # noqa: F401
    import scipy.stats  # noqa: F401

    signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGCHLD])
    usual: dict[frozenset[Path], float] = {}
    found: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        os.environ.setdefault("DATABASE_URL", f"sqlite:///{folder}/planted.sqlite3")
        os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = folder
        for fault in faults:
            tests = mirrors(fault.path)
            same = frozenset(tests)
            if same not in usual:
                outcome, usual[same] = run_tests(tests, None, 600)
                assert outcome == "passed", f"without any fault: {outcome} {[str(test) for test in tests]}"
            outcome, took = run_tests(tests, fault, max(LEAST, TIMES * usual[same]))
            found[outcome] += 1
            word = {"passed": "LIVES", "failed": "noticed", "hung": "noticed, hung"}[outcome]
            print(f"{word}: {fault} ({took:.0f} s)", flush=True)
    print(f"{len(faults)} planted, {found['passed']} lived, {found['failed'] + found['hung']} noticed", end=" ")
    print(f"({found['hung']} by never ending): {100 * found['passed'] / len(faults):.1f} % lived, seed {seed}")


if __name__ == "__main__":
    main()

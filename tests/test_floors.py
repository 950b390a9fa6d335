"""Arrows go down only, no room stands on itself by way of another, and pure folders stay pure."""

import re
import subprocess
from collections import Counter
from pathlib import Path

import pytest

from tests.source import FLOORS, ROOT, arrows, circles, imports, is_pure, modules, pure_folders, room

EVERY = list(modules())
PATHS = dict(EVERY)
PURE = [(name, path) for name, path in EVERY if is_pure(path)]
MOST_MODULES = 20
# Modules that a room has by the same name as others because they hold the same sort of thing (DEVELOPERS.md).
SHELVES = {"models", "services", "queries", "pages", "forms", "tables", "views", "urls", "sheets", "records", "errors"}
SHELVES |= {"as_json", "as_text", "shown", "apps"}


@pytest.mark.parametrize(("name", "path"), EVERY, ids=[name for name, _ in EVERY])
def test_no_module_imports_from_a_floor_above(name: str, path: Path):
    floor = FLOORS.index(name.split(".")[0])
    above = set(FLOORS[floor + 1 :])
    bad = [f"line {line}: {target}" for line, target in imports(path) if target.split(".")[0] in above]
    # A model may be named in a string, too.
    named = r'"((?:' + "|".join(above or {"-"}) + r')\.[A-Z]\w+)"'
    bad += [f"names {match}" for match in re.findall(named, path.read_text())]
    assert not bad


@pytest.mark.parametrize(("name", "path"), PURE, ids=[name for name, _ in PURE])
def test_a_pure_module_imports_no_django_and_no_module_that_does(name: str, path: Path):
    bad = []
    for line, target in imports(path):
        root = target.split(".")[0]
        if root.startswith("django") or root in {"environ", "axes", "csp", "config"}:
            bad.append(f"line {line}: {target}")
        elif target in PATHS and PATHS[target].name != "__init__.py" and not is_pure(PATHS[target]):
            bad.append(f"line {line}: {target} stands in no pure folder")
    assert not bad


def test_no_circle_between_files():
    assert not circles(arrows())


def test_no_circle_between_rooms():
    assert not circles({(room(start), room(end)) for start, end in arrows() if room(start) != room(end)})


def test_a_circle_is_seen():
    assert circles({("a", "b"), ("b", "c"), ("c", "a"), ("c", "d"), ("d", "e")}) == [["a", "b", "c"]]


@pytest.mark.parametrize(
    "folder", sorted({path.parent for _, path in EVERY}), ids=lambda path: str(path.relative_to(ROOT))
)
def test_no_folder_is_crowded(folder: Path):
    assert len([path for path in folder.glob("*.py") if path.name != "__init__.py"]) <= MOST_MODULES


def test_a_name_that_is_no_shelf_stands_for_one_module():
    found = Counter(path.stem for _, path in EVERY if "commands" not in path.parts and path.stem != "__init__")
    assert {name for name, count in found.items() if count > 1} <= SHELVES


def test_the_folders_that_decide_are_pure():
    pure = {str(path.relative_to(ROOT)) for path in pure_folders()}
    assert {"reels/planner", "kits/shortages/reckon", "takeoff/rules/engine", "takeoff/units"} <= pure


def test_the_test_would_see_an_arrow_that_points_up(tmp_path: Path):
    module = tmp_path / "models.py"
    module.write_text("def late():\n    from kits.stock.models import Move\n    return Move\n")
    assert [target for _, target in imports(module)] == ["kits.stock.models", "kits.stock.models.Move"]


def test_nothing_else_stands_at_the_top():
    allowed = {
        "README.md", "DEVELOPERS.md", "LICENSE", "manage.py", "pyproject.toml", "requirements.lock",
        "kits", "reels", "takeoff", "tests", "templates", "docs", "config",
    }  # fmt: skip
    kept = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout.split("\n")
    found = {path.split("/")[0] for path in kept if path and not path.startswith(".")}
    assert found == allowed

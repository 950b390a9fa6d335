"""The project's own source, read by the tests that hold its structure."""

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FLOORS = ("takeoff", "reels", "kits")  # bottom to top
PURE = "Pure: no Django."  # a folder whose first lines say so holds pure arithmetic, and so do the folders in it


def modules() -> Iterator[tuple[str, Path]]:
    """Dotted name and path of every module of the three floors, migrations left out."""
    for floor in FLOORS:
        for path in sorted((ROOT / floor).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            if "migrations" in parts:
                continue
            yield ".".join(parts[:-1] if parts[-1] == "__init__" else parts), path


def pure_folders() -> set[Path]:
    """The folders that say of themselves that no Django is in them."""
    return {path.parent for _, path in modules() if path.name == "__init__.py" and PURE in path.read_text()}


def is_pure(path: Path) -> bool:
    """Whether a module stands in a pure folder, or in a folder of one."""
    return not pure_folders().isdisjoint(path.parents)


def room(name: str) -> str:
    """The room of a module, by its dotted name: floor and folder."""
    return ".".join(name.split(".")[:2])


def imports(path: Path, *, types: bool = True) -> Iterator[tuple[int, str]]:
    """Line and dotted name of everything that a module imports, also in functions; `types` : for annotations too."""
    tree = ast.parse(path.read_text())
    left_out = set()
    if not types:
        guarded = (
            node for node in ast.walk(tree) if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
        )
        left_out = {id(each) for node in guarded for each in ast.walk(node)}
    for node in ast.walk(tree):
        if id(node) in left_out:
            continue
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: imports are written in full"
            module = node.module or ""
            yield node.lineno, module
            yield from ((node.lineno, f"{module}.{alias.name}") for alias in node.names)


def arrows() -> set[tuple[str, str]]:
    """Every pair of modules of which the first imports the second when it is run."""
    known = dict(modules())
    return {
        (name, target)
        for name, path in known.items()
        for _, target in imports(path, types=False)
        if target in known and target != name and known[target].name != "__init__.py"
    }


def circles(arrows: set[tuple[str, str]]) -> list[list[str]]:
    """Return the groups of names that can be reached from each other (Tarjan's strong components), each sorted."""
    onward: dict[str, list[str]] = {}
    for start, end in sorted(arrows):
        onward.setdefault(start, []).append(end)
    seen: dict[str, int] = {}
    low: dict[str, int] = {}
    stack: list[str] = []
    found = []

    def visit(name: str) -> None:
        seen[name] = low[name] = len(seen)
        stack.append(name)
        for target in onward.get(name, ()):
            if target not in seen:
                visit(target)
                low[name] = min(low[name], low[target])
            elif target in stack:
                low[name] = min(low[name], seen[target])
        if low[name] == seen[name]:
            group = [stack.pop()]
            while group[-1] != name:
                group.append(stack.pop())
            if len(group) > 1:
                found.append(sorted(group))

    for name in sorted(onward):
        if name not in seen:
            visit(name)
    return found

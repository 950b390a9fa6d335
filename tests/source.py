"""The project's own source, read by the tests that hold its structure."""

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FLOORS = ("takeoff", "reels", "kits")  # bottom to top

# Shelves and modules that stand on Django; every other module is pure arithmetic.
DJANGO_MODULES = {
    "acts", "admin", "apps", "audit", "fields", "filters", "forms", "gather", "guards", "middleware", "models", "pages", "permissions", "places",
    "queries", "scope", "services", "sheets", "tables", "tasks", "urls", "views",
}  # fmt: skip
DJANGO_FOLDERS = {"management", "migrations", "templatetags"}


def modules() -> Iterator[tuple[str, Path]]:
    """Dotted name and path of every module of the three floors, migrations left out."""
    for floor in FLOORS:
        for path in sorted((ROOT / floor).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            if "migrations" in parts:
                continue
            yield ".".join(parts[:-1] if parts[-1] == "__init__" else parts), path


def imports(path: Path) -> Iterator[tuple[int, str]]:
    """Line and dotted name of everything that a module imports, also inside functions."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: imports are written in full"
            module = node.module or ""
            yield node.lineno, module
            yield from ((node.lineno, f"{module}.{alias.name}") for alias in node.names)

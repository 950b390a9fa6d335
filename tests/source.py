"""The project's own source, read by the tests that hold its structure."""

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FLOORS = ("takeoff", "reels", "kits")  # bottom to top

# The shelves of a room that stand on Django. Every other module is pure arithmetic, but for those named below.
DJANGO_SHELVES = {
    "apps", "fields", "forms", "guards", "middleware", "models", "pages", "permissions", "places", "queries", "scope",
    "services", "sheets", "tables", "tasks", "urls", "views",
}  # fmt: skip
# Modules that a shelf was split into when it grew crowded.
PARTS_OF_SHELVES = {
    "kits.issuing.acts",
    "kits.receiving.acts",
    "kits.shortages.gather",
    "kits.stock.acts",
    "kits.stock.audit",
    "kits.stock.inserts",
    "reels.ledger.acts",
    "reels.planning.beside",
    "reels.planning.crew",
    "reels.planning.gather",
    "reels.planning.room",
    "reels.planning.showing",
    "takeoff.runs.part_sheets",
    "takeoff.sheets.agreeing",
    "takeoff.sheets.blank",
    "takeoff.sheets.context",
    "takeoff.sheets.describe",
    "takeoff.sheets.reading",
    "takeoff.sheets.records",
    "takeoff.sheets.registry",
    "takeoff.sheets.resolving",
    "takeoff.sites.limits",
    "takeoff.sites.rewriting",
    "takeoff.sites.sending",
}
DJANGO_FOLDERS = {"management", "migrations", "templatetags"}


def modules() -> Iterator[tuple[str, Path]]:
    """Dotted name and path of every module of the three floors, migrations left out."""
    for floor in FLOORS:
        for path in sorted((ROOT / floor).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            if "migrations" in parts:
                continue
            yield ".".join(parts[:-1] if parts[-1] == "__init__" else parts), path


def is_pure(name: str) -> bool:
    """Whether a module, by its dotted name, is one that must not know Django."""
    parts = name.split(".")
    return parts[-1] not in DJANGO_SHELVES and not DJANGO_FOLDERS & set(parts) and name not in PARTS_OF_SHELVES


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

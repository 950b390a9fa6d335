"""The tables that the floors have registered, the kinds of things that cells may name, and what follows a load."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from takeoff.sheets.tables import DescriptionTable, EventTable, Table

if TYPE_CHECKING:
    from takeoff.sheets.context import LoadContext
    from takeoff.sites.models import Site

_tables: dict[str, Table] = {}
_references: dict[str, Callable[[Site], Mapping[str, Any]]] = {}
_followers: list[Follower] = []


@dataclass(frozen=True, slots=True)
class Follower:
    """What is done once after the descriptions of a load, when one of `tables` was touched."""

    tables: frozenset[str]
    follow: Callable[[LoadContext], None]


def register(table: Table) -> None:
    """Add a table. Raises ValueError for a second one of the same name, or one that lacks what its sort needs."""
    if table.name in _tables:
        raise ValueError(f"there is a table {table.name!r} already")
    if not isinstance(table, DescriptionTable | EventTable):
        raise TypeError(f"{table.name} is neither a DescriptionTable nor an EventTable")
    missing = [column for column in table.key if column not in table.by_name]
    if missing:
        raise ValueError(f"the key of {table.name} names no column {missing[0]!r}")
    if isinstance(table, EventTable) and "at" not in table.by_name:
        raise ValueError(f"{table.name} needs a column at: events are posted by date")
    _tables[table.name] = table


def register_reference(kind: str, load: Callable[[Site], Mapping[str, Any]]) -> None:
    """Say how all things of a kind are found on a site, by the name that a cell holds."""
    if kind in _references:
        raise ValueError(f"the reference {kind!r} is registered already")
    _references[kind] = load


def register_follower(*, tables: set[str], follow: Callable[[LoadContext], None]) -> None:
    """Have `follow` called once after the descriptions and before the events, when one of the tables was touched."""
    _followers.append(Follower(frozenset(tables), follow))


def tables() -> tuple[Table, ...]:
    """Return every table, descriptions first, each sort in its order."""
    return tuple(sorted(_tables.values(), key=lambda table: (isinstance(table, EventTable), table.order)))


def reference(kind: str) -> Callable[[Site], Mapping[str, Any]]:
    """Return the function that finds all things of a kind on a site."""
    return _references[kind]


def followers(touched: set[str]) -> list[Follower]:
    """Return what has to follow a load that touched these tables."""
    return [follower for follower in _followers if follower.tables & touched]


def discover(app: str) -> None:
    """Import every module `<app>.<room>.sheets`, so that it registers its tables."""
    package = Path(str(import_module(app).__file__)).parent
    for room in sorted(path.name for path in package.iterdir() if (path / "sheets.py").is_file()):
        if find_spec(f"{app}.{room}.sheets"):
            import_module(f"{app}.{room}.sheets")

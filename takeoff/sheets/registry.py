"""The tables that the floors have registered, the kinds of things that cells may name, and what follows a load."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from django.db.models import QuerySet

from takeoff.sheets.table_kinds import DescriptionTable, EventTable, Row, Table

if TYPE_CHECKING:
    from takeoff.sheets.context import LoadContext
    from takeoff.sites.models import Site

_tables: dict[str, Table] = {}
# From a site, and names or None for all, to the things of a kind by name.
Finder = Callable[["Site", Collection[str] | None], Mapping[str, Any]]
_references: dict[str, Finder] = {}
_locks: dict[str, Callable[[Site, Collection[str]], object]] = {}
_followers: list[Follower] = []
_event_doors: list[EventDoor] = []


class EventDoor(Protocol):
    """What keeps events in the order in which they happened; `follows`: and what follows from them."""

    def __call__(self, context: LoadContext, rows: Sequence[Row], *, follows: bool = True) -> None:
        """Keep the rows and count them; a problem goes to the context."""


@dataclass(frozen=True, slots=True)
class Follower:
    """What is done once after the descriptions of a load, or after its events, when one of `tables` was touched."""

    tables: frozenset[str]
    follow: Callable[[LoadContext], None]
    after_events: bool = False


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


def register_reference(kind: str, find: Finder) -> None:
    """Say how things of a kind are found on a site, by the name that a cell holds."""
    if kind in _references:
        raise ValueError(f"the reference {kind!r} is registered already")
    _references[kind] = find


def by_name(rows: Callable[[Site], QuerySet[Any]], field: str = "name") -> Finder:
    """Return the finder of things whose name stands in `field`; `rows` gives all of a site."""

    def find(site: Site, names: Collection[str] | None) -> Mapping[str, Any]:
        found = rows(site) if names is None else rows(site).filter(**{f"{field}__in": names})
        return {getattr(thing, field): thing for thing in found}

    return find


def register_lock(kind: str, lock: Callable[[Site, Collection[str]], object]) -> None:
    """Say how things of a kind are locked by name; kinds are locked in the order in which they are registered."""
    _locks[kind] = lock


def locks() -> Mapping[str, Callable[[Site, Collection[str]], object]]:
    """Return how things are locked by name, by kind, in the house's order."""
    return _locks


def register_follower(*, tables: set[str], follow: Callable[[LoadContext], None], after_events: bool = False) -> None:
    """
    Have `follow` called once when one of the tables was touched.

    After the descriptions and before the events, in the order of registering; or after the events.
    """
    _followers.append(Follower(frozenset(tables), follow, after_events))


def register_event_door(keep: EventDoor) -> None:
    """Say what keeps the events of a load, of all tables."""
    _event_doors[:] = [keep]


def event_door() -> EventDoor:
    """Return what keeps the events of a load."""
    return _event_doors[0]


def event_table(name: str) -> EventTable:
    """Return the table of one kind of events."""
    table = _tables[name]
    assert isinstance(table, EventTable)
    return table


def tables() -> tuple[Table, ...]:
    """Return every table, descriptions first, each sort in its order."""
    return tuple(sorted(_tables.values(), key=lambda table: (isinstance(table, EventTable), table.order)))


def reference(kind: str) -> Finder:
    """Return the function that finds things of a kind on a site."""
    return _references[kind]


def followers(touched: set[str], *, after_events: bool = False) -> list[Follower]:
    """Return what has to follow the descriptions, or the events, of a load that touched these tables."""
    return [each for each in _followers if each.after_events == after_events and each.tables & touched]


def discover(app: str) -> None:
    """Import every module `<app>.<room>.sheets` and `<app>.<room>.records`, so that it registers its tables."""
    package = Path(str(import_module(app).__file__)).parent
    for shelf in ("sheets", "records"):
        for room in sorted(path.name for path in package.iterdir() if (path / f"{shelf}.py").is_file()):
            if find_spec(f"{app}.{room}.{shelf}"):
                import_module(f"{app}.{room}.{shelf}")

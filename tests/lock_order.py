"""Whoever takes locks out of the house's order fails the test that meets it, on both databases."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, connections, models, transaction
from django.db.models.query import QuerySet
from django.db.transaction import Atomic

from takeoff.database.locks import ORDER


class OutOfOrderError(Exception):
    """Two who take these locks can wait for each other."""


@contextmanager
def undone() -> Iterator[None]:
    """Undo what is done within. Like the block that a test rolls back it counts as no transaction: it holds many."""
    block = transaction.atomic()
    block._from_testcase = True  # type: ignore[attr-defined]  # as Django marks its own
    with block:
        yield
        transaction.set_rollback(True)


def forgetting(enter: Callable[[Atomic], None]) -> Callable[[Atomic], None]:
    """Wrap how a block is entered: what begins a transaction has locked nothing yet."""

    def entered(block: Atomic) -> None:
        enter(block)
        if len(_blocks(connections[block.using or "default"])) == 1 and not block._from_testcase:
            connections[block.using or "default"].locked = {}

    return entered


def watched(fetch: Callable[[QuerySet], None]) -> Callable[[QuerySet], None]:
    """Wrap what fetches the rows of a query: rows that it locks must follow all that its transaction has locked."""

    def fetch_all(rows: QuerySet[Any]) -> None:
        fresh = rows._result_cache is None
        fetch(rows)
        if fresh and rows.query.select_for_update and _blocks(connection):
            _note(connection.locked, rows.model, {row.pk for row in rows._result_cache or ()})

    return fetch_all


def _blocks(of: Any) -> list[Atomic]:
    return [block for block in of.atomic_blocks if not block._from_testcase]


def _note(locked: dict[str, set[int]], model: type[models.Model], keys: set[int]) -> None:
    name = str(model._meta.model_name)
    new = keys - locked.get(name, set())
    if new and name in ORDER:
        later = [other for other, held in locked.items() if held and ORDER.index(other) > ORDER.index(name)]
        if later:
            raise OutOfOrderError(f"{name} after {' and '.join(later)}")
        if locked.get(name) and min(new) < max(locked[name]):
            raise OutOfOrderError(f"{name} {min(new)} after {name} {max(locked[name])}")
        locked.setdefault(name, set()).update(new)

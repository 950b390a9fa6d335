"""
The one way to make people take turns.

Order, everywhere: Site → Shipment → Item → Reel → Conductor → Cable → Order, each by key.
`docs/ledger.md` says who takes what.
Locks are of the row without its key (FOR NO KEY UPDATE), so that rows which only point to it can be written meanwhile.
On SQLite the transaction itself is the lock (`transaction_mode` IMMEDIATE), and nothing is done here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TypeVar

from django.db import IntegrityError, OperationalError, connection, models, transaction

M = TypeVar("M", bound=models.Model)
T = TypeVar("T")

ORDER = ("site", "shipment", "item", "reel", "conductor", "cable", "order")  # models that are locked
LOADS = 0x10AD  # the first half of the advisory lock's key, which nothing else of the project takes
TRIES = 3
_rehearsed: ContextVar[bool] = ContextVar("rehearsed", default=False)


def lock(rows: models.QuerySet[M]) -> list[M]:
    """Return rows, locked one after the other by key until the transaction ends; in a rehearsal only sites are."""
    if _rehearsed.get() and rows.model._meta.model_name != ORDER[0]:
        return list(rows.order_by("pk"))
    return list(rows.select_for_update(of=("self",), no_key=True).order_by("pk"))


def take_turns_at_loading(site: models.Model | None) -> None:
    """Wait until no other load of a site is in its transaction; a site that is not there yet has its slug for that."""
    if connection.vendor == "postgresql" and site is not None:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s, %s)", [LOADS, site.pk % 2**31])


@contextmanager
def rehearsal(meant: bool) -> Iterator[None]:
    """Keep nobody from work within, where it is `meant`: all of it is taken back whatever comes of it."""
    before = _rehearsed.set(meant)
    try:
        yield
    finally:
        _rehearsed.reset(before)


def rehearsed() -> bool:
    """Return whether all that is done now is taken back: rows that others would wait for stay as they are."""
    return _rehearsed.get()


def in_turn(work: Callable[[], T], *, before: Callable[[], object] = lambda: None) -> T:
    """
    Do the work in one transaction; again, when somebody kept one of its records, or crossed its locks, meanwhile.

    before : done ahead of each try, while nobody waits for it.
    """
    for tries_left in reversed(range(TRIES)):
        before()
        try:
            with transaction.atomic():
                return work()
        except (IntegrityError, OperationalError):
            if not tries_left or transaction.get_connection().in_atomic_block:
                raise
    raise AssertionError("the last try returns or raises")

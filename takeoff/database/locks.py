"""
The one way to make people take turns.

Order, everywhere: Site → Shipment → Item → Reel → Conductor → Cable, each by key. `docs/ledger.md` says who takes what.
Locks are of the row without its key (FOR NO KEY UPDATE), so that rows which only point to it can be written meanwhile.
On SQLite the transaction itself is the lock (`transaction_mode` IMMEDIATE), and nothing is done here.
"""

from __future__ import annotations

from typing import TypeVar

from django.db import connection, models

M = TypeVar("M", bound=models.Model)

ORDER = ("site", "shipment", "item", "reel", "conductor", "cable")  # models of the three floors that are locked
LOADS = 0x10AD  # the first half of the advisory lock's key, which nothing else of the project takes


def lock(rows: models.QuerySet[M]) -> list[M]:
    """Return rows, locked one after the other by key until the transaction ends."""
    return list(rows.select_for_update(of=("self",), no_key=True).order_by("pk"))


def take_turns_at_loading(site: models.Model | None) -> None:
    """Wait until no other load of a site is in its transaction; a site that is not there yet has its slug for that."""
    if connection.vendor == "postgresql" and site is not None:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s, %s)", [LOADS, site.pk % 2**31])

"""
Linking what was kept, after the act that kept it, never within.

Nobody waits for a link: whoever keeps something links what waits, a little of it, once its own is in the books and
nobody has linked for a moment; else a worker does so a moment later. Who comes second finds it done or gives up.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from functools import partial

from django.db import IntegrityError, connection, models, transaction
from django.utils import timezone
from django_tasks import task

from takeoff.chain.linked_rows import hash_of, linked_models
from takeoff.chain.models import Link
from takeoff.chain.queries import head_of, linked_among, linked_rows, rows_to_link
from takeoff.sites.models import Site

EVERY = timedelta(seconds=2)
MOST_IN_PASSING = 200  # rows that one who keeps something links meanwhile
ROWS_IN_ONE = 50  # the most of one link, which names the place where the chain breaks
ROWS_AT_ONCE = 500
# On PostgreSQL a transaction that began earlier may yet bring rows with lower keys than those that are linked.
LATE = {"sqlite": timedelta(0), "postgresql": timedelta(minutes=1)}

_last_tried: dict[int, float] = {}  # by site, in this process
_asked: dict[int, float] = {}


def link_soon(site: Site) -> None:
    """Have what a transaction keeps linked once it is in the books; called within it."""
    transaction.on_commit(partial(_link_in_passing, site), robust=True)


def link_rows(
    site: Site, *, most: int | None = None, all_keys: bool = False, on_linked: Callable[[int], None] = lambda _: None
) -> int:
    """
    Link what a site keeps that is not linked yet, by table and key, and return how many rows that were.

    most : stop after about so many. all_keys : look among all keys, not only the latest, where some are missing.
    on_linked : told how many are linked so far. Raises IntegrityError when somebody else links at the same time.
    """
    linked = 0
    for model in linked_models():
        for keys in _chunks(model, site, _start(model, site, all_keys=all_keys)):
            if most is not None and linked >= most:
                return linked
            if len(linked_among(model, site, keys)) < len(keys):
                linked += _link(model, site, keys)
                on_linked(linked)
    return linked


def _chunks(model: type[models.Model], site: Site, after: int | None) -> Iterator[list[int]]:
    while keys := rows_to_link(model, site, after=after, most=ROWS_AT_ONCE):
        yield keys
        after = keys[-1]


def _start(model: type[models.Model], site: Site, *, all_keys: bool) -> int | None:
    """Return the key after which to look for what is not linked; None for all."""
    mine = Link.objects.of(site).filter(table=model._meta.db_table)
    if all_keys and linked_rows(model, site) != rows_to_link(model, site).count():
        return None
    settled = mine.filter(at__lte=timezone.now() - LATE[connection.vendor])
    return settled.order_by("last").values_list("last", flat=True).last()


@transaction.atomic
def _link(model: type[models.Model], site: Site, keys: list[int]) -> int:
    """Link those of the rows that are not linked, and return how many."""
    head = head_of(site)  # before the links are read: who adds one meanwhile takes the next number
    linked = linked_among(model, site, keys)
    number, before, now, rows = head.number if head else 0, head.hash if head else "", timezone.now(), 0
    links = []
    for first, last in _without_gaps(key for key in keys if key not in linked):
        number += 1
        link = Link(site=site, number=number, table=model._meta.db_table, first=first, last=last, at=now)
        link.hash, there = hash_of(link, before)
        before, rows = link.hash, rows + there
        links.append(link)
    Link.objects.bulk_create(links)
    return rows


def _without_gaps(keys: Iterator[int]) -> Iterator[tuple[int, int]]:
    """Yield ascending keys as first and last of those that follow each other, few enough for one link."""
    first = last = next(keys, None)
    if first is None or last is None:
        return
    for key in keys:
        if key != last + 1 or key == first + ROWS_IN_ONE:
            yield first, last
            first = key
        last = key
    yield first, last


def _link_in_passing(site: Site) -> None:
    now, every = time.monotonic(), EVERY.total_seconds()
    if now - _last_tried.get(site.pk, -every) < every or _linked_just_now(site):
        if now - _asked.get(site.pk, -every) >= every:
            _asked[site.pk] = now
            link_later.using(run_after=timezone.now() + EVERY).enqueue(site.pk)
        return
    _last_tried[site.pk] = now
    _link_unless_others_do(site, most=MOST_IN_PASSING)


def _linked_just_now(site: Site) -> bool:
    head = head_of(site)
    return head is not None and head.at > timezone.now() - EVERY


def _link_unless_others_do(site: Site, *, most: int | None = None) -> int:
    try:
        return link_rows(site, most=most)
    except IntegrityError:
        return 0  # somebody links at this moment, and what is left waits for the next


@task()
def link_later(site_id: int) -> int:
    """Link what a site keeps that waits, and return how many rows."""
    return _link_unless_others_do(Site.objects.get(pk=site_id))

"""Reads of the chain: where it ends, what is not in it yet, and where it breaks."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from django.db import models
from django.db.models import F, Sum

from takeoff.chain.linked_rows import hash_of
from takeoff.chain.models import Link
from takeoff.sites.models import Site

LINKS_AT_ONCE = 1000


def head_of(site: Site) -> Link | None:
    """Return the last link of a site's chain."""
    return Link.objects.of(site).order_by("-number").first()


def rows_to_link(model: Any, site: Site, *, after: int | None = None, most: int | None = None) -> Any:
    """Return a site's keys of a model that is linked, in order, those after a key and no more than `most`."""
    rows = model.objects.of(site).order_by("pk").values_list("pk", flat=True)
    if after is not None:
        rows = rows.filter(pk__gt=after)
    return rows if most is None else list(rows[:most])


def linked_rows(model: type[models.Model], site: Site) -> int:
    """Return how many rows of a model the links of a site hold."""
    mine = Link.objects.of(site).filter(table=model._meta.db_table)
    return mine.aggregate(rows=Sum(F("last") - F("first") + 1))["rows"] or 0


def linked_among(model: type[models.Model], site: Site, keys: Sequence[int]) -> set[int]:
    """Return those of some keys, in order, that are linked."""
    mine = Link.objects.of(site).filter(table=model._meta.db_table)
    # Links hold no key twice, so of those that begin earlier only the last can reach so far.
    start = mine.filter(first__lte=keys[0]).order_by("-first").values_list("first", flat=True).first()
    reaching = mine.filter(first__gte=keys[0] if start is None else start, first__lte=keys[-1])
    linked = set[int]().union(*(range(first, last + 1) for first, last in reaching.values_list("first", "last")))
    return linked & set(keys)


def broken_links(site: Site, *, on_link: Callable[[int], None] = lambda _: None) -> Iterator[str]:
    """
    Yield what is not as it was linked, the first of it first.

    on_link : told the number of each link. Each is held against the hash of the one before as that is kept, so that
    every place where the chain breaks is named.
    """
    number, before = 0, ""
    while links := list(Link.objects.of(site).filter(number__gt=number).order_by("number")[:LINKS_AT_ONCE]):
        for link in links:
            if link.number != number + 1:
                yield f"Link {number + 1} is gone"
            found, rows = hash_of(link, before)
            if missing := link.last - link.first + 1 - rows:
                yield f"{link}: {missing} of {_rows(link)} gone"
            elif found != link.hash:
                yield f"{link}: {_rows(link)}, or what was written with it, is not as it was linked"
            number, before = link.number, link.hash
            on_link(number)


def differs_from_head(site: Site, number: int, hash_: str) -> str:
    """Return what speaks against a head that was written down, nothing when the chain still has it."""
    link = Link.objects.of(site).filter(number=number).first()
    if link is None:
        return f"Link {number} was the last and is gone"
    return "" if link.hash == hash_ else f"{link} is another than the one that was written down"


def _rows(link: Link) -> str:
    return f"{link.table} {link.first}" + ("" if link.first == link.last else f" to {link.last}")

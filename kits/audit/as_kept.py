"""Proofs that what was kept is as it was kept: by the chain, and by the record that told of each act."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from django.apps import apps
from django.db.models import Count, Exists, OuterRef

from kits.audit.proofs import Proof, prove
from kits.claims.models import Claim
from kits.orders.models import OrderDelivery, OrderStep
from kits.orders.services import state_id
from kits.stock.models import Posting
from takeoff.chain.queries import broken_links, differs_from_head, head_of
from takeoff.chain.services import link_rows
from takeoff.records.models import Record
from takeoff.records.row_hashes import row_hash
from takeoff.sites.models import Site

RECORDS_AT_ONCE = 1000
Seen = Callable[[str], None]  # how far it is, in words


def prove_as_kept(
    site: Site, *, heads: Sequence[tuple[int, str]] = (), seen: Seen = lambda _words: None
) -> list[Proof]:
    """
    Link what waits, then return what can be proved of what a site kept.

    heads : number and hash of links that were written down elsewhere.
    """
    counted = ""

    def chain() -> Iterator[str]:
        nonlocal counted
        waited = link_rows(site, all_keys=True, on_linked=lambda rows: seen(f"{rows} rows linked"))
        last = head_of(site)
        links = last.number if last else 0
        counted = f": {links} links, {waited} rows waited for theirs"
        yield from filter(None, (differs_from_head(site, *head) for head in heads))
        yield from broken_links(site, on_link=lambda number: seen(f"link {number} of {links}"))

    linked = prove("What was kept is as it was linked", chain)
    return [
        replace(linked, claim=linked.claim + counted),
        prove("Records say what they said when they were kept", lambda: _altered(site, seen)),
        prove("Every act has one record that told of it", lambda: _untold(site)),
        prove("Every posting did something, and every claim has a step", lambda: _idle(site)),
    ]


def _altered(site: Site, seen: Seen) -> Iterator[str]:
    """Yield the records whose row is not what its hash was made of, or has another id."""
    rows = Record.objects.of(site).order_by("pk").values_list("event_id", "kind", "row", "row_hash")
    for number, (event_id, kind, row, hash_) in enumerate(rows.iterator(RECORDS_AT_ONCE), start=1):
        # What was kept before records were has only its hash, by a rule of that time.
        if row is not None and (row.get("id") != event_id or row_hash(kind, row) != hash_):
            yield event_id
        if not number % RECORDS_AT_ONCE:
            seen(f"{number} records")


def _untold(site: Site) -> Iterator[str]:
    """Yield the acts that no record tells of, or that say something else, and those that one record told of twice."""
    for model in _models_of_acts():
        record = Record.objects.of(site).filter(event_id=OuterRef("event_id"))
        if any(field.name == "content_hash" for field in model._meta.concrete_fields):
            record = record.filter(row_hash=OuterRef("content_hash"))
        rows = model.objects.of(site).order_by("pk")
        # One of two alike, from the time when each ledger had ids of its own, is known by kind and id.
        before = Record.objects.of(site).filter(row=None, event_id__endswith=OuterRef("event_id"))
        untold = rows.filter(~Exists(record), ~Exists(before))
        if model is Posting:
            untold = untold.exclude(pk__in=_of_other_records(site))
        for row in untold.iterator(RECORDS_AT_ONCE):
            # What a sheet or a claim says of an order's state has no record of its own.
            if model is not OrderStep or row.event_id != state_id(row.order_id, row.step, row.at):
                yield f"{model.__name__} {row.event_id}"
        if model in {OrderStep, OrderDelivery}:  # one record confirms several lines; the database holds one a line
            continue
        twice = rows.order_by("event_id").values_list("event_id").annotate(acts=Count("pk")).filter(acts__gt=1)
        for event_id, acts in twice.iterator(RECORDS_AT_ONCE):
            yield f"{model.__name__} {event_id}: {acts} acts of one record"


def _of_other_records(site: Site) -> Any:
    """Return the postings that follow from a record which is that of another one, here or on another site."""
    rows = Posting.objects.of(site).order_by()
    others = list(Site.objects.exclude(pk=site.pk))
    twin = (
        Posting.objects.of(*others, site)
        .exclude(pk=OuterRef("pk"))
        .filter(content_hash=OuterRef("content_hash"), at=OuterRef("at"))
    )
    follows = rows.filter(kind=Posting.Kind.REPLACED, reverses__isnull=False) | rows.filter(restores__isnull=False)
    return (follows | rows.filter(Exists(twin), event_id__startswith="beyond ")).values("pk")


def _models_of_acts() -> list[Any]:
    """Return the models whose rows are never changed and name the record that told of them."""
    return [
        model
        for config in apps.get_app_configs()
        for model in map(config.get_model, getattr(config, "append_only", {}))
        if model is not Record and any(field.name == "event_id" for field in model._meta.concrete_fields)
    ]


def _idle(site: Site) -> Iterator[str]:
    rows = Posting.objects.of(site).filter(moves=None, bin_count=None, lot_days=None, receipt=None, reverses=None)
    for event_id in rows.order_by("pk").values_list("event_id", flat=True).iterator(RECORDS_AT_ONCE):
        yield f"Posting {event_id} did nothing"
    for claim in Claim.objects.of(site).filter(steps=None).select_related("shipment"):
        yield f"{claim} has no step"

"""What follows a load of packing lists: no table of its own."""

from __future__ import annotations

from django.db.models import Q

from kits.receiving.queries import valid_counts
from kits.shipments.models import PackingLine, Shipment
from kits.stock.services import lock_items
from takeoff.catalogue.models import Item
from takeoff.database.locks import rehearsal
from takeoff.sheets import registry
from takeoff.sheets.context import LoadContext


def answer_late_lists(context: LoadContext) -> None:
    """Make anew, as records of their own, the counts of goods that no list named when they were counted."""
    with rehearsal(context.dry_run):
        _answer(context)


def _answer(context: LoadContext) -> None:
    rows = {row["shipment"]: row for row in context.rows["shipments"]}
    counted = Q(receipts__isnull=False) | Q(found_at__isnull=False)
    shipments = Shipment.objects.of(context.site).filter(counted, name__in=rows).distinct()
    lines = PackingLine.objects.of(context.site).filter(shipment__in=list(shipments))
    lock_items(Item.objects.of(context.site).filter(pk__in=lines.values("item")))  # who counts now is done then
    listed = {key for ship, item, crate in lines.values_list("shipment", "item", "package")
              for key in ((ship, item, crate), (ship, item, None))}  # fmt: skip
    unlisted = valid_counts(context.site).filter(packing_line=None, receipt__shipment__in=list(shipments))
    reported = len(context.reports)
    for count in unlisted.select_related("receipt__posting", "receipt__shipment", "receipt__package", "item"):
        receipt, posting = count.receipt, count.receipt.posting
        if (receipt.shipment_id, count.item_id, receipt.package_id) in listed:
            shipment = context.lookup("shipment")[receipt.shipment.name]
            said = {"shipment": shipment, "item": count.item, "instead": posting.event_id, "by": posting.by}
            package = receipt.package.name if receipt.package else ""
            context.report(rows[shipment.name], "receipts", at=posting.at, package=package, **said)
    if late := context.reports[reported:]:
        registry.event_door()(context, late, follows=False)


registry.register_follower(tables={"shipments"}, follow=answer_late_lists)

"""What was counted of what shipments brought: the kind of record."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import prefetch_related_objects

from kits.receiving.listed_later import ListedLater
from kits.receiving.models import Receipt, ReceiptLine
from kits.receiving.one_count import OneCount
from kits.receiving.packing_lists import PackingLists
from kits.stock.keeper import StoreKind, Wanted, posting_of
from kits.stock.models import Posting
from kits.stock.places import DEFAULT_BIN, Places
from kits.stock.planned_acts import Act
from takeoff.catalogue.models import Item
from takeoff.people.permissions import STORE
from takeoff.records.record_kinds import AT, BY, ID, Filing, register_kind
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Day, LastDay, Number, Reference, Text, YesNo
from takeoff.sites.models import Site

Condition = ReceiptLine.Condition


class ReceiptsKind(StoreKind):
    """
    What was counted of one item of a packing list.

    Good goods go to the bin named, else to the box of the kit that the packing line is for, else to the store; damaged,
    wrong and refused ones to quarantine.
    """

    name = "receipts"
    did = "Counted"
    order = 210
    rank = 1
    help = "What was counted of a shipment, item by item. What is not counted has no row: nothing is guessed."
    permission = STORE
    posts = Posting.Kind.RECEIPT
    may_need_a_look = True
    placed_now = True
    columns = (
        ID,
        Column("shipment", Reference(to="shipment"), "The shipment.", required=True),
        Column("item", Reference(to="item"), "The item that the packing list names.", required=True),
        AT,
        Column(
            "counted",
            Number(),
            "How many came, in the unit of what came.",
            default_help="boxes × per_box + loose",
        ),
        Column(
            "again",
            Choice(tuple(Receipt.Again.values)),
            "Whether these are the same goods as counted before, and replace that count, or further ones.",
            default="",
            default_help="not counted before, or only in part, or not opened",
        ),
        Column("package", Text(60), "The package it was in.", default="", default_help="all of the shipment"),
        Column("condition", Choice(tuple(Condition.values)), "In what condition.", default=Condition.GOOD.value),
        Column("came_item", Reference(to="item"), "What came instead.", default_help="the item itself"),
        Column(
            "came_text",
            Text(200),
            "What came instead, in words, where no item of the site is it.",
            default="",
            default_help="nothing of that sort",
        ),
        Column("grade", Text(120), "Material or grade printed on it.", default="", default_help="the item's"),
        Column("lot", Text(60), "The lot.", default="", default_help="none"),
        Column("made", Day(), "When the lot was made.", default_help="not said"),
        Column("expires", LastDay(), "The lot's last usable day.", default_help="made + shelf life, else none"),
        Column(
            "bin",
            Text(120),
            "Where it was put; made when it is new, and then a box of its kit when that is for a run.",
            default="",
            default_help="the box of its kit when that is for a run, else Store",
        ),
        Column("boxes", Number(), "How many boxes were counted shut.", default_help="not counted in boxes"),
        Column("per_box", Number(above=True), "How many each holds, by its label.", default_help="no boxes"),
        Column("loose", Number(), "How many lay beside them.", default_help="none"),
        Column("part", YesNo(), "Whether more is to be counted.", default=False, default_help="no: all is counted"),
        Column("note", Text(300), "What else there is to say.", default="", default_help="none"),
        Column(
            "seen",
            Text(80),
            "The id of the last count of it that was known where this one was made.",
            default="",
            default_help="not said",
        ),
        Column(
            "instead",
            Text(80),
            "The id of a count that no list named then: this one says the same, held against the list that came since. "
            "The load of the list does so by itself.",
            default="",
            default_help="a count of its own",
        ),
        BY,
    )

    def begin(self, site: Site, filings: Sequence[Filing]) -> PackingLists:
        """Read the packing lists, under the locks of the items: who counted a moment ago is seen."""
        lists = PackingLists.of(site, [filing["shipment"] for filing in filings], super().items(site, filings))
        if any(filing["instead"] for filing in filings):
            prefetch_related_objects([line.receipt.posting for line in lists.told.values()], "lot_days")
        return lists

    def items(self, site: Site, filings: Sequence[Filing]) -> list[Item]:
        """Return the items that are counted, and what earlier counts have moved that these may take back."""
        items = super().items(site, filings)
        again = [filing for filing in filings if filing["again"] == Receipt.Again.SAME or filing["instead"]]
        if not again:
            return items
        before = Posting.objects.of(site).filter(
            receipt__shipment__in=[filing["shipment"] for filing in again],
            receipt__lines__item__in=[filing["item"] for filing in again],
        )
        return [*items, *Item.objects.of(site).filter(moves__posting__in=before).distinct()]

    def wants(self, filing: Filing, begun: PackingLists, wanted: Wanted) -> None:
        """Make the bin, and the boxes of the kits that it may fill."""
        if filing["instead"]:
            return
        package = begun.packages.get((filing["shipment"].pk, filing["package"]))
        answers = begun.answered(filing["shipment"], filing["item"], package)
        kits = {kit if kit and kit.run_id else None for kit in (begun.models[listed.pk].kit for listed in answers)}
        if not filing["bin"]:
            wanted.bins.append(DEFAULT_BIN)
            wanted.boxes += filter(None, kits)
        elif len(kits) == 1 and (kit := kits.pop()):
            wanted.crates.append((filing["bin"], kit))
        else:
            wanted.bins.append(filing["bin"])

    def posting(self, site: Site, filing: Filing) -> Posting:
        """Return what the count will be posted as, its shipment the document."""
        return posting_of(site, filing, self.posts, filing["shipment"].name)

    def act(self, places: Places, filing: Filing, begun: PackingLists) -> Act:
        """Return the act of a count. Raises LedgerError for what cannot have been counted so."""
        return (ListedLater if filing["instead"] else OneCount)(places, filing, begun).act()


register_kind(ReceiptsKind())

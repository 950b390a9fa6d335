"""Packing lists, with what was counted of each line so far."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import Exists

from kits.orders.queries import runs_ordered_for
from kits.promises.models import Kit
from kits.receiving.counting.counts_again import CountMade
from kits.receiving.counting.packing import ListedLine, answered
from kits.receiving.models import Receipt, ReceiptLine
from kits.shipments.models import Package, PackingLine, Shipment
from kits.stock.models import Move, Posting
from kits.stock.planned_acts import Outcome, PlannedMove
from kits.stock.queries import reversals
from takeoff.catalogue.models import Item
from takeoff.runs.models import Run
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks


@dataclass(slots=True)
class PackingLists:
    """
    The packing lists of shipments, with what was counted of items so far.

    packages : of the shipments, by shipment and name. counts : by shipment and item, those that stand and those that
    are on their way; sources : where the moves of a count that stands are found: its posting, or what became of its
    act. A count that is on its way, or was refused, has none. told : the first receipt line of each that was posted.
    """

    lines: dict[int, list[ListedLine]] = field(default_factory=dict)
    models: dict[int, PackingLine] = field(default_factory=dict)
    packages: dict[tuple[int, str], Package] = field(default_factory=dict)
    counts: dict[tuple[int, int], list[CountMade]] = field(default_factory=dict)
    sources: dict[CountMade, Posting | Outcome] = field(default_factory=dict)
    told: dict[CountMade, ReceiptLine] = field(default_factory=dict)
    moves: dict[int, list[PlannedMove]] = field(default_factory=dict)
    ordered_for: dict[tuple[int, int], dict[int | None, int]] = field(default_factory=dict)
    runs: dict[int, str] = field(default_factory=dict)

    @classmethod
    def of(cls, site: Site, shipments: Iterable[Shipment], items: Iterable[Item]) -> PackingLists:
        """
        Read the packing lists of some shipments, and what was counted of some items, in five queries.

        In two more where something is made for runs: which run an order names it for, and what runs there are.
        """
        keys = {shipment.pk for shipment in shipments}
        rows = PackingLine.objects.of(site).filter(shipment__in=keys).select_related("kit__run")
        packages = Package.objects.of(site).filter(shipment__in=keys)
        lists = cls(packages={(package.shipment_id, package.name): package for package in packages})
        kits: dict[int, Kit] = {}  # one object for each, so that a new box is known to all of its lines
        for row in rows.order_by("pk"):
            if row.kit is not None:
                row.kit = kits.setdefault(row.kit.pk, row.kit)
            line = ListedLine(row.pk, row.item_id, row.package_id, to_ticks(row.quantity))
            lists.lines.setdefault(row.shipment_id, []).append(line)
            lists.models[row.pk] = row
        items = list(items)
        lists._read_counts(site, keys, {item.pk for item in items})
        if made_for := {item.pk for item in items if item.for_run}:
            lists.ordered_for = runs_ordered_for(site, made_for)
            lists.runs = dict(Run.objects.of(site).values_list("pk", "name"))
        return lists

    def made_for(self, listed: ListedLine | None) -> str:
        """Return the run that a line of a packing list is for, by its kit or else by its order; blank for none."""
        row = self.models[listed.pk] if listed else None
        if row is None:
            return ""
        if row.kit and row.kit.run:
            return row.kit.run.name
        runs = self.ordered_for.get((row.order_id or 0, row.item_id), {})
        (run,) = runs if len(runs) == 1 else (None,)  # of several, the lot must say which came
        return self.runs[run] if run else ""

    def standing(self, shipment: Shipment, item: Item) -> list[CountMade]:
        """Return the counts of an item that stand."""
        return [count for count in self.counts.get((shipment.pk, item.pk), ()) if count in self.sources]

    def moves_of(self, count: CountMade) -> list[PlannedMove]:
        """Return the moves of a count that stands."""
        source = self.sources[count]
        return self.moves.get(source.pk, []) if isinstance(source, Posting) else source.steps

    def _read_counts(self, site: Site, shipments: Iterable[int], items: Iterable[int]) -> None:
        rows = ReceiptLine.objects.of(site).filter(
            ~Exists(reversals(site, of="receipt__posting")), receipt__shipment__in=shipments, item__in=items
        )
        lines: dict[int, list[ReceiptLine]] = {}
        for row in rows.select_related("receipt__posting").order_by("pk"):
            lines.setdefault(row.receipt.posting_id, []).append(row)
        moves = Move.objects.of(site).filter(posting__in=list(lines)).select_related("item", "source", "target")
        for move in moves.order_by("pk"):
            step = PlannedMove(move.item, to_ticks(move.quantity), move.source, move.target, move.lot)
            self.moves.setdefault(move.posting_id, []).append(step)
        for posting, of_count in lines.items():
            first, receipt = of_count[0], of_count[0].receipt
            lot = next((step.lot for step in self.moves.get(posting, ())), "")
            count = CountMade(
                receipt.posting.event_id,
                receipt.posting.at,
                receipt.package_id,
                (first.condition, first.came_item_id, first.grade, lot),
                same=receipt.again == Receipt.Again.SAME,
                further=receipt.again == Receipt.Again.FURTHER,
                partial=first.partial,
                opened=first.condition != ReceiptLine.Condition.NOT_OPENED,
                parts={row.packing_line_id: to_ticks(row.covers) for row in of_count},
            )
            self.counts.setdefault((receipt.shipment_id, first.item_id), []).append(count)
            self.sources[count] = receipt.posting
            self.told[count] = first

    def answered(self, shipment: Shipment, item: Item, package: Package | None) -> list[ListedLine]:
        """Return the lines that a count answers, none when the list does not name the item."""
        return answered(self.lines.get(shipment.pk, []), item.pk, package.pk if package else None)

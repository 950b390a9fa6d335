"""What one supplier owes free of charge, for a letter to it: with counts, drawing revisions and photos. No prices."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from kits.claims.queries import still_open
from kits.promises.models import KitLine
from kits.receiving.counting.by_truck import Found
from kits.receiving.models import ReceiptLine
from kits.receiving.queries import valid_counts
from kits.shipments.models import PackingLine
from kits.shortages.item_books import read_item_books
from kits.shortages.queries import terms_of
from kits.shortages.reckon.item import reckon
from kits.shortages.reckon.lines import ShortItem
from takeoff.catalogue.models import Supplier
from takeoff.photos.models import Photo
from takeoff.photos.queries import photos_of
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks
from takeoff.units.unit_words import needed

SORTS = ("short", "damaged", "refused", "wrong item", "promised, not shipped", "not on the kit list")

NAMED = 3  # kits that a line names


@dataclass(frozen=True, slots=True)
class OwedRow:
    """
    One thing that is owed. Quantities in ticks.

    what : one of SORTS. where : the shipment, or the kits. revision : of the drawing that it was promised against.
    listed, counted : by the packing list and by the store, None where no list names it. said : what came instead.
    """

    what: str
    item: ShortItem
    quantity: int
    where: str
    revision: str = ""
    listed: int | None = None
    counted: int | None = None
    said: str = ""
    photos: tuple[Photo, ...] = field(default=(), compare=False)


@dataclass(frozen=True, slots=True)
class Letter:
    """All that one supplier owes, in the order of SORTS."""

    supplier: Supplier
    rows: tuple[OwedRow, ...]

    @property
    def photos(self) -> list[Photo]:
        """The photos of all that came not whole, each once."""
        return list({photo.pk: photo for row in self.rows for photo in row.photos}.values())


def letter_to(site: Site, supplier: Supplier) -> Letter:
    """Return what a supplier owes today, in a number of queries that does not grow with the rows."""
    rows = [*_not_whole(site, supplier), *_not_sent(site, supplier)]
    return Letter(supplier, tuple(sorted(rows, key=lambda row: (SORTS.index(row.what), row.item.code, row.where))))


def _not_whole(site: Site, supplier: Supplier) -> Iterator[OwedRow]:
    """Yield what came not whole and no claim has settled: of open claims, and what can still be claimed."""
    files, left = still_open(site)
    owed = [pair for file in files if file.claim.shipment.supplier_id == supplier.pk for pair in file.lines]
    owed += [pair for one in left if one.shipment.supplier_id == supplier.pk for pair in one.lines]
    keys = {listed.pk for listed, _ in owed}
    lines = PackingLine.objects.of(site).filter(pk__in=keys)
    known = {line.pk: line for line in lines.select_related("item__supplier", "shipment", "kit")}
    receipts = valid_counts(site).filter(packing_line__in=keys)
    counts: dict[int, list[ReceiptLine]] = {}
    for receipt in receipts.select_related("receipt__posting"):
        counts.setdefault(receipt.packing_line_id or 0, []).append(receipt)
    records = [("receipts", one.receipt.posting.event_id) for of_line in counts.values() for one in of_line]
    taken = photos_of(site, records)
    for listed, found in owed:
        line, counted = known[listed.pk], counts.get(listed.pk, [])
        photos = [p for one in counted for p in taken.get(("receipts", one.receipt.posting.event_id), [])]
        for what, quantity, said in _sorts(found):
            yield OwedRow(
                what=what,
                item=_told(line, supplier),
                quantity=quantity,
                where=str(line.shipment),
                revision=line.kit.revision if line.kit else "",
                listed=to_ticks(line.quantity),
                counted=sum(to_ticks(one.counted) for one in counted),
                said=said,
                photos=tuple(photo for photo in photos if not hasattr(photo, "removed")),
            )


def _sorts(found: Found) -> Iterator[tuple[str, int, str]]:
    named = (("short", found.short), ("damaged", found.damaged), ("refused", found.refused))
    yield from ((what, quantity, "") for what, quantity in named if quantity)
    yield from (("wrong item", quantity, f"{came} came") for came, quantity in found.wrong if quantity)


def _told(line: PackingLine, supplier: Supplier) -> ShortItem:
    """Return the item of a line, with its part number where that is the supplier's own."""
    item = line.item
    part = item.supplier_part if item.supplier_id == supplier.pk else ""
    return ShortItem(item.pk, item.code, item.description, item.unit, supplier_part=part)


def _not_sent(site: Site, supplier: Supplier) -> Iterator[OwedRow]:
    """Yield what the supplier's kits promised and nobody sent, and what its kit lists lack against the drawing."""
    today = site.today()
    gathered, terms = read_item_books(site, today), terms_of(site, today)
    kits: dict[int, list[KitLine]] = {}
    for line in KitLine.objects.of(site).select_related("kit").order_by("kit__name"):
        kits.setdefault(line.item_id, []).append(line)
    for key, item in gathered.items.items():
        if item.supplier_id != supplier.pk or item.fitted or key not in kits:
            continue  # what no kit promises is nobody's gap
        told = reckon(gathered.books[key], terms)
        where = _first([line.kit.name for line in kits[key]])
        revision = ", ".join(_revisions(kits[key]))
        for what, cause in (("promised, not shipped", "not_shipped"), ("not on the kit list", "kit_list")):
            if (quantity := told.causes[cause]) > 0:
                yield OwedRow(what, item, needed(quantity, item.unit), where, revision)


def _first(names: Sequence[str]) -> str:
    """Return up to NAMED names, and how many there are besides."""
    more = len(names) - NAMED
    return ", ".join(names[:NAMED]) + (f" and {more} more" if more > 0 else "")


def _revisions(lines: Iterable[KitLine]) -> Sequence[str]:
    return list(dict.fromkeys(line.kit.revision for line in lines if line.kit.revision))

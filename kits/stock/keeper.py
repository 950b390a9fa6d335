"""The store's ledger as a keeper of records: kinds say what a record moves, this posts them together."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar

from django.utils import timezone

from kits.promises.models import Kit
from kits.stock.books.errors import LedgerError
from kits.stock.models import Posting
from kits.stock.places import Places
from kits.stock.planned_acts import Act
from kits.stock.services import beyond, lock_items, record_acts, reversal_of
from takeoff.catalogue.models import Item
from takeoff.database.bulk import insert_rows
from takeoff.database.folding import folded
from takeoff.records.record_kinds import Filing, Keeper, RecordKind, by_kind
from takeoff.runs.models import Run
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Number, Reference, Text
from takeoff.sites.models import Place, Site


@dataclass(slots=True)
class Wanted:
    """
    Places that records need and that are made where they are missing: of work, bins by name, boxes of kits.

    crates : bins by name in which something for a kit is put. gangs : names of which some may be of gang boxes.
    """

    work: list[tuple[Place.Kind, Run, str]] = field(default_factory=list)
    bins: list[str] = field(default_factory=list)
    boxes: list[Kit] = field(default_factory=list)
    crates: list[tuple[str, Kit]] = field(default_factory=list)
    gangs: list[str] = field(default_factory=list)


class StoreKeeper(Keeper):
    """Keeps what happened in the store as postings with moves."""

    order = 2

    def lock(self, site: Site, filings: Sequence[Filing]) -> None:
        """Lock the items that the records move, in the order of their keys."""
        items = [item for kind, mine in by_kind(filings).items() for item in kind.items(site, mine)]
        if taken_back := [filing.reverses.event_id for filing in filings if filing.reverses]:
            there = beyond(site, taken_back)
            moved = Item.objects.of(site, *(posting.site for posting in there))
            ids = [*taken_back, *(posting.event_id for posting in there)]
            items += moved.filter(moves__posting__event_id__in=ids).distinct()
        lock_items(items)

    def prepare(self, site: Site, filings: Sequence[Filing]) -> None:
        """Write the postings; their moves follow under the locks."""
        for kind, mine in by_kind(filings).items():
            for filing in mine:
                filing.prepared = kind.posting(site, filing)
        insert_rows([filing.prepared for filing in filings if filing.prepared])

    def keep(self, site: Site, filings: Sequence[Filing], *, again: bool = False) -> None:
        """Post each record, or put on it why not."""
        places = Places(site)
        kept: list[tuple[Filing, Act]] = []
        wanted = Wanted()
        begun: dict[str, Any] = {}
        for kind, mine in by_kind(filings).items():
            begun[kind.name] = kind.begin(site, mine)
            for filing in mine:
                kind.wants(filing, begun[kind.name], wanted)
        places.make(work=wanted.work, bins=wanted.bins, boxes=wanted.boxes, crates=wanted.crates, gangs=wanted.gangs)
        postings = _taken_back(site, filings)
        for filing in filings:
            try:
                if filing.reverses is not None:
                    act = _reversal(site, filing, postings)
                else:
                    filing.prepared = filing.prepared or filing.kind.posting(site, filing)  # type: ignore[attr-defined]
                    act = filing.kind.act(places, filing, begun[filing.kind.name])  # type: ignore[attr-defined]
            except LedgerError as error:
                filing.error = error
            else:
                kept.append((filing, act))
        outcomes = record_acts(site, [act for _, act in kept], again=again)
        for (filing, _), outcome in zip(kept, outcomes, strict=True):
            filing.error = outcome.error


STORE = StoreKeeper()

ITEM = Column("item", Reference(to="item"), "The item.", required=True)
# What came in place of the item lies in its own pieces, under a lot of its own.
IN_PIECES = ", in the item's unit; where a lot is named, in the pieces that lie under it."
QUANTITY = Column("quantity", Number(above=True), f"How many{IN_PIECES}", required=True)
REASON = Column("reason", Text(300), "Why.", required=True)


class StoreKind(RecordKind):
    """A kind of record that moves stock."""

    keeper = STORE
    looked_at = "item"
    posts: ClassVar[Posting.Kind]

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the item that it is about."""
        return f"item {said['item']}"

    def told(self, said: Mapping[str, Any]) -> str:
        """Return in words how many of what."""
        how_many = said.get("counted") or said.get("quantity") or ""
        return f"{self.did}: {how_many} {said.get('item', '')}".rstrip(": ")

    def brings(self, said: Mapping[str, Any]) -> tuple[str, ...]:
        """Return the bin that the record makes where it is new."""
        return (f"bin {folded(said['bin'])}",) if said.get("bin") else ()

    def posting(self, site: Site, filing: Filing) -> Posting:
        """Return what the record will be posted as."""
        return posting_of(site, filing, self.posts)

    def items(self, site: Site, filings: Sequence[Filing]) -> list[Item]:
        """Return the items that the records move."""
        return [value for filing in filings for value in filing.row.values.values() if isinstance(value, Item)]

    def begin(self, site: Site, filings: Sequence[Filing]) -> Any:
        """Read what all records of the kind share, locks taken."""
        return None

    @abstractmethod
    def wants(self, filing: Filing, begun: Any, wanted: Wanted) -> None:
        """Add the places that a record needs and that are made where they are missing."""

    @abstractmethod
    def act(self, places: Places, filing: Filing, begun: Any) -> Act:
        """Return the act of a record. Raises LedgerError for what cannot be posted so."""


def posting_of(site: Site, filing: Filing, kind: Posting.Kind, document: str = "") -> Posting:
    """Return the posting of a record: what every act says, by the columns that kinds share."""
    said, sender = filing.row.values, filing.sender
    lender = said.get("lender")
    # Keys instead of objects: setting a related object costs more than inserting the row.
    return Posting(
        site_id=site.pk,
        event_id=filing.id,
        kind=kind,
        content_hash=filing.hash,
        at=filing.at,
        recorded_at=timezone.now(),
        by=said.get("by", ""),
        recorded_by_id=sender.pk if sender else None,
        reason=said.get("reason", ""),
        document=document,
        lender_id=lender.pk if lender else None,
    )


def _taken_back(site: Site, filings: Iterable[Filing]) -> dict[str, Posting]:
    """Return the postings that reversals take back, by id; one of this batch may be written, but not its moves."""
    ids = {filing.reverses.event_id for filing in filings if filing.reverses is not None}
    ids -= {filing.id for filing in filings}
    if not ids:
        return {}
    found = Posting.objects.of(site).filter(event_id__in=ids).select_related("site")
    return {posting.event_id: posting for posting in found}


def _reversal(site: Site, filing: Filing, postings: Mapping[str, Posting]) -> Act:
    assert filing.reverses is not None
    posting = postings.get(filing.reverses.event_id)
    if posting is None:
        # In the same batch: taken back before it has moved anything, so it is tried again once it has.
        raise LedgerError(
            f"{filing.reverses} is not in the books yet.", column="reverses", lacks=f"record {filing.reverses}"
        )
    return reversal_of(posting, posting_of(site, filing, Posting.Kind.REVERSAL))

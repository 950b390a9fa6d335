"""
What was sent to another site, and what was taken in there: the kinds of record.

Each site keeps its own books: what leaves lies in transit in the sender's books until it arrives, then at its far
end "other site"; the receiver takes it from its own far end. Taking in moves both books by one record of the receiver,
and taking that back moves both back. Items are the same when code and unit are.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from django.db.models import Prefetch

from kits.stock.books.balances import Books
from kits.stock.books.errors import LedgerError
from kits.stock.books.pieces import OWN, Piece
from kits.stock.keeper import ITEM, QUANTITY, StoreKind, Wanted, posting_of
from kits.stock.models import Balance, Lot, Move, Posting
from kits.stock.places import Places
from kits.stock.planned_acts import Act, PlannedMove
from kits.stock.records import LOT, WHY, CarriesKind, good_stock
from kits.stock.services import piece_of, posting_beyond, taken_in
from kits.stock.taking import Group
from takeoff.catalogue.models import Item
from takeoff.people.permissions import STORE
from takeoff.records.record_kinds import AT, BY, ID, Filing, register_kind
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Text
from takeoff.sites.models import Place, Site
from takeoff.units.exact import to_ticks

LONGEST_LOT: int = Lot._meta.get_field("code").max_length or 0


class SendsKind(CarriesKind):
    """What was put on the way to another site."""

    name = "sends"
    did = "Sent"
    order = 272
    rank = 5
    help = "What was sent to another site. It is on the way until that site takes it in."
    permission = STORE
    posts = Posting.Kind.TRANSFER
    any_lot = True
    columns = (
        ID,
        ITEM,
        QUANTITY,
        Column("to", Text(50), "The site that it goes to, as in its address.", required=True, example="north"),
        Column("bin", Text(120), "Where it lay.", required=True),
        AT,
        LOT,
        WHY,
        BY,
    )

    def begin(self, site: Site, filings: Sequence[Filing]) -> Mapping[str, Mapping[str, Item]]:
        """Return the sites that it goes to by slug, each with its items of the same codes."""
        codes = {filing["item"].code for filing in filings}
        sites = _sites(site, {filing["to"] for filing in filings}).values()
        return {to.slug: {item.code: item for item in Item.objects.of(to).filter(code__in=codes)} for to in sites}

    def posting(self, site: Site, filing: Filing) -> Posting:
        """Return what it will be posted as, for the other site."""
        return posting_of(site, filing, self.posts, f"to {filing['to']}")

    def act(self, places: Places, filing: Filing, begun: Any) -> Act:
        """Return the act. Raises LedgerError when the other site is unknown, or has no such item."""
        if filing["to"] not in begun:
            raise _no_site(filing["to"], "to")
        _twin(filing["item"], begun[filing["to"]], filing["to"])
        return super().act(places, filing, begun)

    def ends(self, places: Places, filing: Filing) -> tuple[Group, Place]:
        """Return the bin, and what is on the way to the other site."""
        return good_stock(places, filing["bin"], column="bin"), places.transit(filing["to"])


@dataclass(frozen=True, slots=True)
class Sent:
    """
    What sites have sent, by slug and id of the record.

    own : the items of this site by code. lots : the senders', by item and lot. known : those of this site by item and
    lot of which anything lies somewhere. gone : the senders' far ends. taken : which record took it in, by key of the
    posting that sent it.
    """

    sites: Mapping[str, Site]
    postings: Mapping[tuple[str, str], Posting]
    own: Mapping[str, Item]
    lots: Mapping[tuple[int, str], Lot]
    known: Collection[tuple[int, str]]
    gone: Mapping[str, Place]
    taken: dict[int, str] = field(default_factory=dict)


class TakingsInKind(StoreKind):
    """What arrived of what another site had sent, once and whole."""

    name = "takings_in"
    did = "Taken in"
    order = 274
    rank = 5
    help = "What was taken in that another site sent, all of one record there. Taken back, it is on the way again."
    permission = STORE
    posts = Posting.Kind.TRANSFER
    columns = (
        ID,
        Column("from", Text(50), "The site that sent it, as in its address.", required=True, example="south"),
        Column("sent", Text(80), "The id of the record there that sent it.", required=True),
        AT,
        Column("bin", Text(120), "Where it was put; made when it is new.", default="", default_help="Store"),
        BY,
    )
    looked_at = "sent"

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the site that sent it."""
        return f"site {said['from']}"

    def items(self, site: Site, filings: Sequence[Filing]) -> list[Item]:
        """Return the items that move, in both books: sites that take in from each other would wait for each other."""
        begun = self.begin(site, filings)
        moved = {move.item for sent in begun.postings.values() for move in _on_the_way(sent)}
        return [*moved, *begun.own.values()]

    def begin(self, site: Site, filings: Sequence[Filing]) -> Sent:
        """Read what the other sites have sent here."""
        sites = _sites(site, {filing["from"] for filing in filings})
        here = Move.objects.of(*sites.values()).filter(target__kind=Place.Kind.TRANSIT, target__name=site.slug)
        there = Prefetch("moves", here.select_related("item", "target").order_by("pk"), to_attr="on_the_way")
        rows = Posting.objects.of(*sites.values()).filter(event_id__in={filing["sent"] for filing in filings})
        postings = {(row.site.slug, row.event_id): row for row in rows.select_related("site").prefetch_related(there)}
        items = {move.item for sent in postings.values() for move in _on_the_way(sent)}
        lying = Balance.objects.of(site).exclude(quantity=0).order_by()
        lots = list(Lot.objects.of(*sites.values()).filter(item__in=items).select_related("came_item"))
        came = {lot.came_item.code for lot in lots if lot.came_item}
        return Sent(
            sites=sites,
            postings=postings,
            own={
                item.code: item for item in Item.objects.of(site).filter(code__in={item.code for item in items} | came)
            },
            lots={(lot.item_id, lot.code): lot for lot in lots},
            known=set(lying.filter(lot__in={lot.code for lot in lots}).values_list("item", "lot")),
            gone={slug: Places(sender).other_site(site.slug) for slug, sender in sites.items()},
        )

    def wants(self, filing: Filing, begun: Any, wanted: Wanted) -> None:
        """Make the bin."""
        wanted.bins.append(filing["bin"])

    def posting(self, site: Site, filing: Filing) -> Posting:
        """Return what it will be posted as here, from the other site."""
        return posting_of(site, filing, self.posts, f"from {filing['from']}")

    def act(self, places: Places, filing: Filing, begun: Any) -> Act:
        """Return the act. Raises LedgerError when nothing is on the way here under that id."""
        if filing["from"] not in begun.sites:
            raise _no_site(filing["from"], "from")
        sender: Site = begun.sites[filing["from"]]
        sent = begun.postings.get((sender.slug, filing["sent"]))
        moves = _on_the_way(sent) if sent else []
        if sent is None or not moves:
            text = f"{sender} sent nothing to {places.site} under the id {filing['sent']}."
            raise LedgerError(text, column="sent", found=filing["sent"], lacks=f"sent {filing['sent']}")
        slug = places.site.slug
        twins = {move.item_id: _twin(move.item, begun.own, slug) for move in moves}
        lots = {move: begun.lots.get((move.item_id, move.lot)) for move in moves}
        pieces = {move: _piece(lot, begun.own, slug) for move, lot in lots.items()}
        gone, source, target = begun.gone[sender.slug], places.other_site(sender.slug), places.bin(filing["bin"])

        def steps(books: Books) -> list[PlannedMove]:
            if Posting.objects.of(sender).filter(reverses=sent).exists():
                raise LedgerError(f"{sent} was taken back: it never left {sender}.", column="sent", found=str(sent))
            if begun.taken.setdefault(sent.pk, filing.id) != filing.id or taken_in(sent):
                raise LedgerError(f"{sent} was taken in before.", column="sent", found=str(sent))
            found = []
            for move in moves:
                twin, said, piece, quantity = twins[move.item_id], lots[move], pieces[move], move.quantity
                # A run of the sender's says nothing here: what is made for runs fits nobody until somebody says whom.
                lot = "" if twin.for_run else move.lot
                lies = books.piece(twin.pk, lot)
                if lies != piece and (lies is not OWN or (twin.pk, lot) in begun.known):
                    lot = f"{sender.slug}, {lot}"[:LONGEST_LOT]  # in one lot all pieces are alike
                books.tell_piece(twin.pk, lot, piece)
                if said and said.expires and lot:
                    books.tell_expiry(twin.pk, lot, said.expires)
                found.append(PlannedMove(move.item, to_ticks(quantity), move.target, gone, move.lot))
                found.append(PlannedMove(twin, to_ticks(quantity), source, target, lot))
            return found

        return Act(
            posting=filing.prepared,
            items=(*twins.values(), *(move.item for move in moves)),
            places=(source, target, gone, *(move.target for move in moves)),
            steps=steps,
            beyond=posting_beyond(filing.prepared, places.site, sender, document=sent.event_id),
        )


def _sites(site: Site, slugs: set[str]) -> dict[str, Site]:
    """Return other sites by slug."""
    return {other.slug: other for other in Site.objects.filter(slug__in=slugs).exclude(pk=site.pk)}


def _no_site(slug: str, column: str) -> LedgerError:
    text = f"There is no other site {slug}."
    return LedgerError(text, column=column, found=slug, expected="the site as in its address", lacks=f"site {slug}")


def _on_the_way(sent: Posting) -> list[Move]:
    return list(sent.on_the_way)  # type: ignore[attr-defined]  # as `begin` read it


def _piece(lot: Lot | None, there: Mapping[str, Item], slug: str) -> Piece:
    """Return how a lot of another site lies, by the items of this one."""
    return replace(piece_of(lot), came=_twin(lot.came_item, there, slug).pk) if lot and lot.came_item else OWN


def _twin(item: Item, there: Mapping[str, Item], slug: str) -> Item:
    """Return the item of another site that is the same."""
    twin = there.get(item.code)
    if twin is None or twin.unit != item.unit:
        raise LedgerError(
            f"{slug} has no item {item.code} counted in {item.unit}.",
            column="item",
            found=item.code,
            expected=f"an item that {slug} has, too, in the same unit",
            lacks=f"item {item.code}",
        )
    return twin


register_kind(SendsKind())
register_kind(TakingsInKind())

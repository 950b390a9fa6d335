"""What is moved, released, scrapped and sent back, and how long a lot can be used: the kinds of record."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from typing import Any

from kits.stock.books.balances import Books
from kits.stock.books.errors import CannotBeError, LedgerError, LotError, UnknownPlaceError
from kits.stock.keeper import ITEM, QUANTITY, REASON, StoreKind, Wanted
from kits.stock.models import Posting
from kits.stock.places import DEFAULT_BIN, QUARANTINE, Places, Why
from kits.stock.planned_acts import Act, PlannedMove, ticks_of
from kits.stock.taking import Group, Steps, carrying, carrying_lot
from takeoff.catalogue.models import Item
from takeoff.database.folding import folded
from takeoff.people.permissions import STORE
from takeoff.records.record_kinds import AT, BY, ID, Filing, register_kind
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Day, Text
from takeoff.sites.models import Place

ANY_HOLD = f"{QUARANTINE}: wherever it is on hold"
LOT = Column("lot", Text(60), "The lot.", default="", default_help="first expired first out")
WHY = Column("reason", Text(300), "Why.", default="", default_help="not said")
LOT_GONE = Column("lot", Text(60), "The lot.", default="", default_help="what has no lot")


class CarriesKind(StoreKind):
    """What takes an item from one place of the site to another."""

    any_lot = False  # whether a blank lot means any, first expired first out

    def wants(self, filing: Filing, begun: Any, wanted: Wanted) -> None:
        """Make nothing: both places must be there."""

    @abstractmethod
    def ends(self, places: Places, filing: Filing) -> tuple[Group, Place]:
        """Return where it may be taken from and where it goes. Raises LedgerError for a place that is unknown."""

    def steps(self, filing: Filing, sources: Group, target: Place) -> Steps:
        """Return the steps of the act: of the lot that is named, else of what has none, or of any."""
        item, quantity, lot = filing["item"], ticks_of(filing["quantity"]), filing["lot"]
        # Pieces that are made for runs are not alike.
        take = carrying if self.any_lot and not item.for_run else carrying_lot
        return take(item, quantity, sources, target, lot=lot)

    def act(self, places: Places, filing: Filing, begun: Any) -> Act:
        """Return the act. Raises LedgerError for a place that is unknown, or the same twice."""
        sources, target = self.ends(places, filing)
        if target.pk in sources:
            raise CannotBeError(
                f"{target} is where it lies already.", column="target", found=str(target), expected="another place"
            )
        return Act(
            posting=filing.prepared,
            items=(filing["item"],),
            places=(*sources.values(), target),
            steps=self.steps(filing, sources, target),
        )


def good_stock(places: Places, name: str, *, column: str) -> Group:
    """Return the bin or kit box of that name. Raises UnknownPlaceError for what is on hold, or where there is none."""
    place = places.known(name, column=column)
    if place.kind == Place.Kind.QUARANTINE:
        raise UnknownPlaceError(
            f"What lies in {place} is on hold: release it with a reason, send it back or scrap it.",
            column=column,
            found=name,
            expected="a bin or kit box; what is on hold is released, sent back or scrapped",
        )
    return {place.pk: place}


class TransfersKind(CarriesKind):
    """What was moved from one bin to another. What is on hold leaves it only by a release."""

    name = "transfers"
    did = "Moved"
    order = 250
    rank = 5
    help = "What was moved between bins, kit boxes and crews' gang boxes of the site. Bins must be known."
    permission = STORE
    posts = Posting.Kind.TRANSFER
    any_lot = True
    columns = (
        ID,
        ITEM,
        QUANTITY,
        Column("source", Text(120), "Where it lay.", required=True),
        Column("target", Text(120), "Where it was put.", required=True),
        AT,
        LOT,
        WHY,
        BY,
    )

    def wants(self, filing: Filing, begun: Any, wanted: Wanted) -> None:
        """Make the gang box of a crew that is filled for the first time."""
        wanted.gangs.append(filing["target"])

    def brings(self, said: Mapping[str, Any]) -> tuple[str, ...]:
        """Return the gang box that the record makes where it is new."""
        return (f"bin {folded(said['target'])}",)

    def ends(self, places: Places, filing: Filing) -> tuple[Group, Place]:
        """Return the two bins. Raises LedgerError for what no gang box holds: parts that each have their place."""
        source = good_stock(places, filing["source"], column="source")
        target, item = places.known(filing["target"], column="target"), filing["item"]
        if target.kind == Place.Kind.GANG_BOX and item.usage == Item.Usage.FIXED:
            raise LedgerError(
                f"{item} is handed out to a run and stage: a gang box holds what leaves in cases.",
                column="target",
                found=str(target),
                expected="a bin or kit box; of what is counted, wiped or laid as a bead also a gang box",
            )
        return source, target


class ReleasesKind(CarriesKind):
    """What was on hold and was found good. What is refused never is: it is counted again once its grade is accepted."""

    name = "releases"
    did = "Released"
    order = 255
    rank = 5
    help = "What was on hold and is good stock after all, and why. A refused grade is never released."
    permission = STORE
    posts = Posting.Kind.RELEASE
    columns = (
        ID,
        ITEM,
        QUANTITY,
        REASON,
        AT,
        Column("held", Text(120), "Where it was on hold.", default="", default_help=ANY_HOLD),
        Column("bin", Text(120), "Where it was put; made when it is new.", default="", default_help=DEFAULT_BIN),
        LOT_GONE,
        BY,
    )

    def wants(self, filing: Filing, begun: Any, wanted: Wanted) -> None:
        """Make the bin that it goes to."""
        wanted.bins.append(filing["bin"] or DEFAULT_BIN)

    def ends(self, places: Places, filing: Filing) -> tuple[Group, Place]:
        """Return where it was on hold, refused grades left out, and the bin."""
        held = places.holding(filing["held"], column="held")
        if any(place.kind != Place.Kind.QUARANTINE for place in held.values()):
            raise UnknownPlaceError(
                f"Nothing is on hold in {filing['held']}: only what is on hold is released.",
                column="held",
                found=filing["held"],
                expected=f"one of {', '.join(why.place for why in Why if why is not Why.REFUSED)}, or nothing",
            )
        refused = places.quarantine(Why.REFUSED)
        if list(held) == [refused.pk]:
            raise UnknownPlaceError(
                "A refused grade is never released: once a planner has let the item accept it, count it again.",
                column="held",
                found=filing["held"],
                expected="what is on hold for another reason",
            )
        target = places.bin(filing["bin"])
        if not Place.Kind(target.kind).holds_good_stock:
            raise UnknownPlaceError(
                f"{target} holds nothing good.", column="bin", found=filing["bin"], expected="a bin or kit box"
            )
        return {key: place for key, place in held.items() if key != refused.pk}, target


class ScrapsKind(CarriesKind):
    """What was scrapped."""

    name = "scraps"
    did = "Scrapped"
    order = 260
    rank = 5
    help = "What was thrown away, and why."
    permission = STORE
    posts = Posting.Kind.SCRAP
    columns = (ID, ITEM, QUANTITY, Column("bin", Text(120), "Where it lay.", required=True), REASON, AT, LOT_GONE, BY)

    def ends(self, places: Places, filing: Filing) -> tuple[Group, Place]:
        """Return the bin, and where scrap goes."""
        return places.holding(filing["bin"]), places.scrap()


class SendBacksKind(CarriesKind):
    """What was sent back to its supplier."""

    name = "send_backs"
    did = "Sent back"
    order = 270
    rank = 5
    help = "What was sent back to its supplier, and why."
    permission = STORE
    posts = Posting.Kind.SEND_BACK
    columns = (
        ID,
        ITEM,
        QUANTITY,
        REASON,
        AT,
        Column("bin", Text(120), "Where it lay.", default="", default_help=ANY_HOLD),
        LOT_GONE,
        BY,
    )

    def ends(self, places: Places, filing: Filing) -> tuple[Group, Place]:
        """Return the bin or where it is on hold, and where goods go that are sent back."""
        return places.holding(filing["bin"]), places.returned()


class LotDaysKind(StoreKind):
    """How long a lot can really be used, where what was said before is wrong. What was said last rules."""

    name = "lot_days"
    did = "Last day mended"
    order = 275
    rank = 6
    help = "The right last usable day of a lot, where the one that was told is wrong, and why."
    permission = STORE
    posts = Posting.Kind.LAST_DAY
    columns = (
        ID,
        ITEM,
        Column("lot", Text(60), "The lot.", required=True),
        Column("expires", Day(), "Its last usable day.", required=True),
        REASON,
        AT,
        BY,
    )

    def wants(self, filing: Filing, begun: Any, wanted: Wanted) -> None:
        """Make nothing: a day moves no goods."""

    def act(self, places: Places, filing: Filing, begun: Any) -> Act:
        """Return the act. Raises LotError for a lot that nobody has told of."""
        item, lot, day = filing["item"], filing["lot"], filing["expires"]

        def steps(books: Books) -> list[PlannedMove]:
            if not books.knows_lot(item.pk, lot):
                raise LotError(
                    f"No lot {lot} of {item} has come.",
                    column="lot",
                    found=lot,
                    expected="a lot that has come",
                    lacks="stock",
                )
            books.set_expiry(item.pk, lot, day)
            return []

        return Act(
            posting=filing.prepared, items=(item,), places=tuple(places.holding("").values()), steps=steps, picks=True
        )


for _kind in (TransfersKind, ReleasesKind, ScrapsKind, SendBacksKind, LotDaysKind):
    register_kind(_kind())

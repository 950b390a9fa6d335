"""
What to order of whom, less what orders ask for that are not sent yet. Reads no database.

Quantities are ticks of an item's unit, and for cable whole reels (as ticks, too: one reel is a unit).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from kits.reorders.why_words import arithmetic_in_words, causes_in_words
from kits.shortages.reckon.lines import CableLine, Reconciliation, ShortLine
from kits.shortages.reckon.order_quantity import order_quantity
from kits.shortages.told.of_cable import why_in_words
from kits.shortages.told.rounded import rounded_line
from takeoff.units.exact import SCALE
from takeoff.units.shown import near, number

ITEM, CABLE = "i", "c"


@dataclass(frozen=True, slots=True)
class Asked:
    """What a line of an order asks for that is not sent yet: of a run or a length of reel, where it names one."""

    order: str
    quantity: int
    run: str = ""
    reel_length: int | None = None


@dataclass(frozen=True, slots=True)
class Proposed:
    """
    A line of an order that is proposed. ware : "i" or "c" and the key of an item or a cable.

    lacking : before packs and drafts. in_drafts : what drafts take of it. unit_price : in minor units, None when not
    known. reason : why, as it stands now.
    """

    ware: str
    code: str
    description: str
    unit: str
    supplier_id: int | None
    supplier: str
    quantity: int
    lacking: int
    in_drafts: tuple[Asked, ...] = ()
    run: str = ""
    size: str = ""
    reel_length: int | None = None
    need_by: date | None = None
    unit_price: int | None = None
    reason: str = ""

    @property
    def key(self) -> str:
        """What tells the line from the others of a proposal."""
        return f"{self.ware}/{self.run}/{self.reel_length or ''}"

    @property
    def cost(self) -> int | None:
        """What the line costs, in minor units; None where the price is not known."""
        return None if self.unit_price is None else round(Fraction(self.quantity, SCALE) * self.unit_price)


def proposals(
    found: Reconciliation, asked: Mapping[str, Collection[Asked]], wares: Collection[str], *, unit: str
) -> Iterator[Proposed]:
    """
    Yield the lines to order of some wares; those of which drafts ask for enough have the quantity 0.

    asked : by ware, what orders ask for that are not sent yet. unit : the site's unit of length.
    """
    for line in found.lines:
        if (ware := f"{ITEM}{line.item.id}") in wares:
            yield from _of_item(line, list(asked.get(ware, ())), ware, found)
    for cable in found.cables:
        if cable.ware and (ware := f"{CABLE}{cable.ware.id}") in wares:
            yield from _of_cable(cable, asked.get(ware, ()), ware, unit)


def _of_item(line: ShortLine, asked: list[Asked], ware: str, found: Reconciliation) -> Iterator[Proposed]:
    item = line.item
    wanted = [(walk.runs, walk.size, walk.lacking, walk.need_by) for walk in line.walks if walk.lacking]
    if not line.walks and line.lacking:
        wanted = [((), "", line.lacking, line.need_by)]
    shown = rounded_line(line)
    why = f"{causes_in_words(shown)}\n{arithmetic_in_words(shown, level=found.level, as_of=found.as_of)}"
    rows = []
    for runs, size, lacking, need_by in wanted:
        drafts = tuple(one for one in asked if not runs or one.run in runs)
        left = lacking - sum(one.quantity for one in drafts)
        rows.append((runs, size, lacking, need_by, drafts, order_quantity(short=left, pack=item.pack)))
    total = sum(quantity for *_, quantity in rows)
    more = order_quantity(short=item.min_order - total, pack=item.pack) if total else 0
    for runs, size, lacking, need_by, drafts, quantity in rows:
        yield Proposed(
            ware=ware,
            code=item.code,
            description=item.description,
            unit=item.unit,
            supplier_id=item.supplier_id,
            supplier=item.supplier,
            quantity=quantity + (more if quantity else 0),
            lacking=lacking,
            in_drafts=drafts,
            run=runs[0] if runs else "",
            size=size,
            need_by=need_by,
            unit_price=item.unit_cost,
            reason=why,
        )
        more = 0 if quantity else more


def _of_cable(cable: CableLine, asked: Iterable[Asked], ware: str, unit: str) -> Iterator[Proposed]:
    bought = cable.ware
    assert bought is not None
    drafts = list(asked)
    for length, count in cable.order or ():
        mine = tuple(one for one in drafts if one.reel_length == length)
        yield Proposed(
            ware=ware,
            code=cable.cable,
            description=f"{bought.description}, reel of {near(length, unit)}",
            unit="reel",
            supplier_id=bought.supplier_id,
            supplier=bought.supplier,
            quantity=max(0, count * SCALE - sum(one.quantity for one in mine)),
            lacking=count * SCALE,
            in_drafts=mine,
            reel_length=length,
            need_by=cable.need_by,
            unit_price=bought.price(length),
            reason=why_in_words(cable, unit),
        )


def why_left_out(line: Proposed) -> str:
    """
    Return why a proposed line would not be drafted, empty where it would.

    >>> why_left_out(Proposed("i1", "LUG", "", "each", None, "", 10_000, 10_000))
    'no supplier is named for it'
    """
    if not line.quantity:
        asked = ", ".join(f"{one.order} {number(one.quantity)}" for one in line.in_drafts)
        return f"asked for already: {asked}"
    return "" if line.supplier_id else "no supplier is named for it"

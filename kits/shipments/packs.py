"""What a packing list counts in: pieces, boxes, packs. Pure; quantities in the item's unit."""

from __future__ import annotations

from decimal import Decimal


class PackError(ValueError):
    """A packing list that counts in something whose pieces are not known; `column` is the cell at fault."""

    def __init__(self, column: str, expected: str) -> None:
        super().__init__(f"expected {expected}")
        self.column = column
        self.expected = expected


def pieces_per_pack(
    *, unit: str, per_pack: Decimal | None, item_unit: str, pack: Decimal, per_box: Decimal | None
) -> Decimal:
    """
    Return how many of the item's unit one of what the list counts holds.

    unit : as the list says, blank for the item's own; box and pack are known. per_pack : as the list says, or None.
    pack, per_box : of the item. Raises PackError for a unit whose pieces nobody told.
    """
    counted_in = _singular(unit)
    if not counted_in or counted_in == _singular(item_unit):
        if counted_in and per_pack is not None and per_pack != 1:
            raise PackError("per_pack", f"none, or 1, when the list counts in {item_unit}")
        return Decimal(1) if per_pack is None else per_pack
    if per_pack is not None:
        return per_pack
    if counted_in == "box":
        if per_box is None:
            raise PackError("unit", "per_pack, or an item that says how many come in a box (per_box)")
        return per_box
    if counted_in == "pack":
        return pack
    raise PackError("unit", f"{item_unit}, box or pack, or per_pack with how many it holds")


def _singular(unit: str) -> str:
    words = {"boxes": "box", "packs": "pack", "ea": "each", "pcs": "each", "pc": "each"}
    plain = unit.strip().rstrip(".").casefold()
    return words.get(plain, plain)

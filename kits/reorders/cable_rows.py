"""The rows of a reorder workbook that buy cable: one for each length of reel to order, and one that says why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kits.shortages.reckon.lines import CableLine
from kits.shortages.told.of_cable import reels_in_words, why_in_words
from takeoff.sheets.files.export import text_cell
from takeoff.sheets.files.sheet_writer import Value, amount_of
from takeoff.units.exact import from_ticks
from takeoff.units.shown import near


def cables_to_order(cables: Sequence[CableLine], *, unit: str, currency: str) -> Iterator[dict[str, Value]]:
    """Yield a row for each length of each cable by the headers of the sheet to order from; prices are of a reel."""
    for cable in cables:
        ware = cable.ware
        assert ware is not None
        for length, count in cable.order or ():
            reel = f"reel of {near(length, unit)}"
            yield {
                "Part": text_cell(ware.supplier_part),
                "Item": text_cell(cable.cable),
                "Description": text_cell(f"{ware.description}, {reel}"),
                "Quantity": count,
                "Unit": "reel",
                "Pack of": 1,
                "Need by": cable.need_by,
                "Unit price": amount_of(ware.price(length), currency),
            }


def why_cables(cables: Sequence[CableLine], *, unit: str) -> Iterator[dict[str, Value]]:
    """Yield a row for each cable by the headers of the sheet of reasons: the cut plan says why, no sum of feet does."""
    for cable in cables:
        yield {
            "Item": text_cell(cable.cable),
            "Order by": cable.order_by,
            "Runs that wait": text_cell(", ".join(cable.runs)),
            "What the gap is made of": text_cell(
                f"{len(cable.unmet)} lengths find no reel here; to buy {reels_in_words(cable.buy or (), unit)}"
            ),
            "Order": from_ticks(sum(count for _, count in cable.order or ()) * 10_000),
            "How the quantity came about": text_cell(why_in_words(cable, unit)),
        }

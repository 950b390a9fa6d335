"""The smallest site whose store can be loaded from sheets."""

from typing import Any

from tests.takeoff.sheets.books import load, told

Rows = list[list[Any]]

BASE: dict[str, Rows] = {
    "site": [["name", "unit", "timezone"], ["North yard", "ft", "America/Chicago"]],
    "suppliers": [["supplier"], ["Bus works"], ["Seal house"]],
    "items": [
        ["item", "description", "unit", "per_box", "pack", "grade", "accept", "refuse", "contents", "shelf_life_days"],
        ["LUG", "Lug", "each", 25, 100, None, None, None, None, None],
        ["SEAL", "Sealant", "tube", 12, 12, "butyl", "butyl rubber", "silicone, latex", "10.1 fl oz", 365],
        ["BR-28", "Large sealant", "tube", None, 1, "butyl rubber", None, None, "28 fl oz", None],
    ],
    "cables": [["item", "size", "material"], ["C500", 500, "Cu"]],
    "runs": [
        ["run", "from", "to", "tiers", "phases", "cables_per_phase", "cable"],
        ["NORTH", "T1", "S1", 1, 3, 1, "C500"],
        ["SOUTH", "T2", "S2", 1, 3, 1, "C500"],
    ],
    "kits": [
        ["kit", "item", "quantity", "run", "revision"],
        ["K1", "LUG", 10, "NORTH", "B"],
        ["K2", "LUG", 4, None, None],
    ],
    "orders": [
        ["order", "supplier", "item", "quantity", "expected", "po"],
        ["O1", "Seal house", "SEAL", 24, "2026-03-20", "PO-7"],
    ],
    "shipments": [
        ["shipment", "supplier", "item", "quantity", "package", "unit", "kit", "order", "expected"],
        ["S1", "Bus works", "LUG", 10, "crate 1", None, "K1", None, "2026-03-01"],
        ["S1", "Bus works", "LUG", 2, "crate 2", "box", None, None, "2026-03-01"],
        ["S2", "Seal house", "SEAL", 24, None, "tube", None, "O1", None],
    ],
}


def site_with(**tables: Rows):
    """Load the base with these tables besides, or in place of its own."""
    return load({**BASE, **tables})


__all__ = ["BASE", "load", "site_with", "told"]

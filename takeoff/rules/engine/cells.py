"""A rule as cells of its sheet. Pure: no Django."""

from __future__ import annotations

from takeoff.rules.engine.rows import RuleRow
from takeoff.units.exact import from_ticks
from takeoff.units.lengths import show_length

LENGTHS = ("spacing", "end_offset", "piece", "bead")


def cell(row: RuleRow, column: str, unit: str) -> object:
    """Return what stands in a column for a rule, None for nothing; lengths in the site's `unit`."""
    value = getattr(row, "name" if column == "rule" else column)
    if value is None:
        return None
    if column in LENGTHS or (column == "amount" and row.measure == "length"):
        return show_length(value, unit)
    if column in {"amount", "allowance"}:
        return from_ticks(value)
    if column == "fire_rated":
        return "yes" if value else "no"
    return value if isinstance(value, int) else str(value) or None

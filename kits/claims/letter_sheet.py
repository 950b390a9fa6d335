"""What one supplier owes, as a workbook to send with the letter. No prices."""

from __future__ import annotations

from datetime import date

from kits.claims.letters import Letter
from takeoff.sheets.files.export import text_cell
from takeoff.sheets.files.sheet_writer import Look, StreamedTable, WrittenColumn, content_of, new_workbook, paper_for
from takeoff.sites.models import Site
from takeoff.sites.queries import where_to_send
from takeoff.units.exact import from_ticks

OWED = (
    WrittenColumn("What", 18),
    WrittenColumn("Part", 14),
    WrittenColumn("Item", 16),
    WrittenColumn("Description", 30),
    WrittenColumn("Shipment or kit", 18),
    WrittenColumn("Drawing", 11),
    WrittenColumn("Listed", 9, "quantity"),
    WrittenColumn("Counted", 9, "quantity"),
    WrittenColumn("Owed", 9, "quantity"),
    WrittenColumn("Unit", 9),
    WrittenColumn("Said", 24),
    WrittenColumn("Photos", 8, "count"),
    WrittenColumn("You send", 10, "quantity", reply=True),
    WrittenColumn("On", 11, "date", reply=True),
    WrittenColumn("Note", 16, reply=True),
)


def letter_workbook(letter: Letter, site: Site, on: date) -> bytes:
    """Return the workbook: a row for each thing that is owed, with cells to answer in."""
    book = new_workbook(f"Owed by {letter.supplier}", live=False)
    table = StreamedTable(book, _look(letter, site, on), OWED)
    for row in letter.rows:
        table.append(
            {
                "What": row.what,
                "Part": text_cell(row.item.supplier_part),
                "Item": text_cell(row.item.code),
                "Description": text_cell(row.item.description),
                "Shipment or kit": text_cell(row.where),
                "Drawing": text_cell(row.revision),
                "Listed": None if row.listed is None else from_ticks(row.listed),
                "Counted": None if row.counted is None else from_ticks(row.counted),
                "Owed": from_ticks(row.quantity),
                "Unit": text_cell(row.item.unit),
                "Said": text_cell(row.said),
                "Photos": len(row.photos) or None,
            }
        )
    table.finish({})
    return content_of(book)


def _look(letter: Letter, site: Site, on: date) -> Look:
    return Look(
        name="Owed",
        title=f"Please send free of charge, or credit: {letter.supplier}",
        facts=[
            site.name,
            f"as of {on.isoformat()}",
            *where_to_send(site),
        ],
        note="Counted on arrival against your packing lists, and held against the drawings by your kit lists.",
        footer=f"{site.name} · {letter.supplier}",
        footer_right=on.isoformat(),
        currency=site.currency,
        paper=paper_for(site.unit),
    )

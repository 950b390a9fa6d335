"""The report of a delivery as a workbook, to send to a carrier or a supplier. No prices."""

from __future__ import annotations

from datetime import date, datetime

from kits.receiving.report_rows import ReportPage, ReportRow
from takeoff.sheets.files.export import text_cell
from takeoff.sheets.files.sheet_writer import (
    Look,
    StreamedTable,
    Value,
    WrittenColumn,
    content_of,
    new_workbook,
    paper_for,
)
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks

LINES = (
    WrittenColumn("What", 13),
    WrittenColumn("Item", 16),
    WrittenColumn("Description", 30),
    WrittenColumn("Package", 14),
    WrittenColumn("Listed", 9, "quantity"),
    WrittenColumn("Counted", 9, "quantity"),
    WrittenColumn("Quantity", 9, "quantity"),
    WrittenColumn("Unit", 8),
    WrittenColumn("Said", 34),
    WrittenColumn("Counted by", 16),
    WrittenColumn("Counted on", 16),
)
GATE = (
    WrittenColumn("Came", 30),
    WrittenColumn("Packages", 9, "count"),
    WrittenColumn("Missing", 24),
    WrittenColumn("Damaged outside", 24),
    WrittenColumn("Signed", 18),
    WrittenColumn("Written", 34),
    WrittenColumn("Driver's paper", 14),
    WrittenColumn("Signed by", 16),
    WrittenColumn("Hidden damage by", 12, "date"),
    WrittenColumn("Claim by", 12, "date"),
)
NOTE = "Usual dates; the carrier's own terms govern. What nobody counted is not counted, and is no zero."


def report_workbook(page: ReportPage, site: Site, on: date) -> bytes:
    """Return the workbook: what is not as listed or not counted, and what was said at the gate."""
    workbook = new_workbook(f"Delivery report {page.report.shipment}", live=False)
    lines = StreamedTable(workbook, _look("Report", page, site, on), LINES)
    for row in (*page.rows, *page.uncounted):
        lines.append(_line(row, site))
    gate = StreamedTable(workbook, _look("At the gate", page, site, on), GATE)
    for one in page.gate:
        arrival = one.arrival
        said: dict[str, Value] = {
            "Came": f"{_moment(arrival.not_before, site)} – {_moment(arrival.at, site)}"
            if arrival.not_before
            else _moment(arrival.at, site),
            "Packages": arrival.count,
            "Missing": text_cell(", ".join(one.missing)),
            "Damaged outside": text_cell(", ".join(one.damaged)),
            "Signed": "clean receipt" if one.clean else arrival.get_words_display().lower() or "not said",
            "Written": text_cell(arrival.written),
            "Driver's paper": text_cell(arrival.paper),
            "Signed by": text_cell(arrival.by),
            "Hidden damage by": one.truck.dates.notices[0].by,
            "Claim by": one.truck.dates.claim,
        }
        gate.append(said)
    return content_of(workbook)


def _line(row: ReportRow, site: Site) -> dict[str, Value]:
    return {
        "What": row.what,
        "Item": text_cell(row.item.code),
        "Description": text_cell(row.item.description),
        "Package": text_cell(row.package),
        "Listed": None if row.listed is None else from_ticks(row.listed),
        "Counted": None if row.counted is None else from_ticks(row.counted),
        "Quantity": from_ticks(row.quantity),
        "Unit": text_cell(row.item.unit),
        "Said": text_cell(row.said),
        "Counted by": text_cell(row.by),
        "Counted on": _moment(row.at, site),
    }


def _look(name: str, page: ReportPage, site: Site, on: date) -> Look:
    shipment = page.report.shipment
    sender = str(shipment.supplier or "sender not known")
    return Look(
        name=name,
        title=f"Delivery report: {shipment}",
        facts=[site.name, sender, *([shipment.carrier] if shipment.carrier else []), f"as of {on.isoformat()}"],
        note=NOTE,
        footer=f"{site.name} · {shipment} · {name}",
        footer_right=on.isoformat(),
        currency=site.currency,
        paper=paper_for(site.unit),
    )


def _moment(at: datetime | None, site: Site) -> str:
    return f"{at.astimezone(site.tz):%Y-%m-%d %H:%M}" if at else ""

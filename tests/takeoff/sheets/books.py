"""Sheets for tests: as rows, as workbooks, and the smallest drawing package that loads."""

import io
from typing import Any

from openpyxl import Workbook

from takeoff.sheets.files.sources import Sheet, read_file
from takeoff.sheets.preview import LoadResult
from takeoff.sheets.services import load_sheets

Tables = dict[str, list[list[Any]]]

SITE = {"site": [["name", "unit", "timezone"], ["North yard", "ft", "America/Chicago"]]}
CATALOGUE = {
    "suppliers": [["supplier", "email"], ["Bus works", "orders@example.com"]],
    "items": [
        ["item", "description", "unit", "pack", "supplier", "contents"],
        ["BLK-M", "Support block, middle", "each", 10, "Bus works", None],
        ["SEAL", "Sealant", "cartridge", 12, None, "10.1 fl oz"],
        ["STR-12", "Straight, 12 ft", "each", None, None, None],
    ],
    "cables": [
        ["item", "size", "material", "diameter", "buy lengths"],
        ["C500", 500, "Cu", "1.003 in", "500 ft, 1000 ft"],
        ["G4/0", "4/0", "copper", "0.642 in", None],
    ],
}
RULES = {
    "rules": [
        ["rule", "item", "stage", "counted_on", "measure", "amount", "spacing", "end_offset", "source"],
        ["middle blocks", "BLK-M", "cables", "section", "spaced", 1, "36 in", "18 in", "NFPA 70 Art. 370"],
    ]
}
RUNS = {
    "runs": [
        ["run", "from", "to", "tiers", "phases", "cables_per_phase", "cable", "ground_cable", "slack_percent"],
        ["R-101", "T1", "S1", 2, 3, 2, "C500", "G4/0", "2%"],
        ["R-102", "T2", "S2", 1, 3, 1, "C500", "G4/0", 0.05],
    ],
    "ends": [
        ["run", "end", "stick_out", "min_stick_out", "ground_tail", "seal", "seal_width (in)", "seal_height (in)"],
        ["R-101", "from", "6'", "5' 6\"", "3 ft", "moulded", 18, 12],
        ["R-101", "to", "7 ft", None, "3 ft", "caulked", 18, 12],
        ["R-102", "from", "6 ft", None, "3 ft", "none", None, None],
        ["R-102", "to", "6 ft", None, "3 ft", "none", None, None],
    ],
    "sections": [
        ["run", "seq", "kind", "length", "turn", "radius", "item", "mark"],
        ["R-101", 1, "straight", "12 ft", None, None, "STR-12", "S1"],
        ["R-101", 2, "horizontal elbow", "4' 8 1/2\"", "right", "36 in", None, None],
        ["R-101", 3, "straight", 12, None, None, "STR-12", "S2"],
        ["R-102", 1, "straight", "20 ft", None, None, None, None],
    ],
    "crossings": [
        ["run", "at", "kind", "width", "height", "depth", "fire_rated", "seal"],
        ["R-101", "10 ft", "wall", "24 in", "12 in", "8 in", "yes", "none"],
    ],
    "conductors": [
        ["run", "conductor", "tier", "position"],
        *(
            [
                ["R-101", name, 1 + place // 3, 1 + place % 3]
                for place, name in enumerate(("A1", "B1", "C1", "A2", "B2", "C2"))
            ]
        ),
    ],
    "stages": [
        ["run", "stage", "planned", "done"],
        ["R-101", "enclosure", "2026-03-02", "2026-03-04"],
        ["R-101", "cables", "2026-03-20", None],
    ],
}
PACKAGE: Tables = {**SITE, **CATALOGUE, **RULES, **RUNS}


def workbook(tables: Tables) -> bytes:
    """Return tables as an .xlsx file."""
    book = Workbook()
    book.remove(book.active)
    for name, rows in tables.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def sheets(tables: Tables) -> list[Sheet]:
    """Return tables as they are read from a workbook."""
    return read_file(io.BytesIO(workbook(tables)), "package.xlsx")


def load(tables: Tables, slug: str = "north", **options: Any) -> LoadResult:
    """Load tables into a site, as one who has looked at what is asked."""
    options.setdefault("confirmed", True)
    return load_sheets(sheets=sheets(tables), slug=slug, **options)


def told(result: LoadResult) -> list[str]:
    """Return the problems of a load as their sentences."""
    return [str(problem) for problem in result.problems]

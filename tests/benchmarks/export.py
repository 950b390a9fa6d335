"""
How long 10 000 rows take to .xlsx, against openpyxl merely writing the same values.

    .venv/bin/python tests/benchmarks/export.py [rows]

Both write the same two sheets with the same values in openpyxl's write-only mode; ours adds styles, number formats,
row heights, page settings and the safety of text. Prints the best of several rounds of each, and their ratio, which
is to be at most 1.5.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from time import process_time

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from openpyxl import Workbook, load_workbook

from kits.reorders.workbook import write_workbooks
from tests.kits.reorders.build import Sender, reconciliation, short_line

ROUNDS = 5


def ours(lines: int, folder: Path) -> float:
    """Seconds to write a reorder workbook; making the lines is not counted."""
    given = reconciliation(*(short_line(item={"id": n, "code": f"item-{n:05}"}) for n in range(lines)))
    start = process_time()
    write_workbooks(given, Sender(), folder)
    return process_time() - start


def bare(values: list[tuple[str, list[tuple]]], path: Path) -> float:
    """Seconds for openpyxl to write the same values, without any style."""
    start = process_time()
    workbook = Workbook(write_only=True)
    for name, rows in values:
        sheet = workbook.create_sheet(name)
        for row in rows:
            sheet.append(row)
    workbook.save(path)
    return process_time() - start


def main() -> None:
    """Measure both side by side, in turn, and print."""
    lines = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        ours(lines, folder)
        [path] = folder.glob("*.xlsx")
        values = [(sheet.title, list(sheet.iter_rows(values_only=True))) for sheet in load_workbook(path).worksheets]
        pairs = [(ours(lines, folder), bare(values, folder / "bare.xlsx")) for _ in range(ROUNDS)]
    best, plain = min(pair[0] for pair in pairs), min(pair[1] for pair in pairs)
    print(f"{lines} rows on each of two sheets: {best:.2f} s, openpyxl alone {plain:.2f} s, ratio {best / plain:.2f}")


if __name__ == "__main__":
    main()

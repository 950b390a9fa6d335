"""
Loading 10 000 rows of an .xlsx, beside openpyxl merely reading them. Run: python tests/benchmarks/load.py

Both are timed in one process on the same file, in turns; the smallest of each counts, and the target is a ratio of at
most 2. The rows are sections of 500 runs; they go into a database in a temporary file (SQLite) or, with DATABASE_URL
set, into a test database there. Loading the same file again, which changes nothing, is timed as well.
"""

import io
import os
import sys
from pathlib import Path
from time import perf_counter

ROWS = 10_000
RUNS = 500
ROUNDS = 3
TARGET = 2.0

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
os.environ.setdefault("SECRET_KEY", "benchmark-only")
os.environ.setdefault("DEBUG", "True")


def package() -> tuple[dict, bytes]:
    """Return the tables that the sections stand on, and the workbook of 10 000 sections."""
    from tests.takeoff.sheets.books import CATALOGUE, SITE, workbook

    header = ["run", "from", "to", "tiers", "phases", "cables_per_phase", "cable", "ground_cable"]
    runs = [[f"R-{number}", f"T{number}", f"S{number}", 2, 3, 2, "C500", "G4/0"] for number in range(RUNS)]
    sections = [["run", "seq", "kind", "length", "lie", "turn", "mark", "item"]]
    for number in range(ROWS):
        run, seq = divmod(number, ROWS // RUNS)
        elbow = seq % 7 == 6
        kind = "horizontal elbow" if elbow else "straight"
        length = f"{8 + number % 15}' {number % 12} {1 + 2 * (number % 8)}/16\"" if number % 2 else 8 + number % 15
        turn = ("left", "right")[number % 2] if elbow else None
        sections.append(
            [f"R-{run}", seq + 1, kind, length, "horizontal", turn, f"M{number}", None if elbow else "STR-12"]
        )
    return {**SITE, **CATALOGUE, "runs": [header, *runs]}, workbook({"sections": sections})


def merely_read(content: bytes) -> int:
    """Read every cell with openpyxl in the way that is quickest, and do nothing with it."""
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(content), read_only=True)
    return sum(1 for sheet in book.worksheets for row in sheet.iter_rows(values_only=True) if row)


def timed(work) -> float:
    """Return the seconds that one call takes."""
    start = perf_counter()
    work()
    return perf_counter() - start


def measure() -> None:
    """Time both in turns and print the ratio."""
    from takeoff.models import Section, Site
    from takeoff.sheets.files.sources import read_file
    from takeoff.sheets.services import load_sheets
    from tests.takeoff.sheets.books import load

    base, content = package()
    assert load(base, slug="bench").loaded
    site = Site.objects.get(slug="bench")

    def loading() -> None:
        result = load_sheets(sheets=read_file(io.BytesIO(content), "sections.xlsx"), slug="bench")
        assert result.loaded, result.problems[:3]

    reading, first, again = [], [], []
    for _ in range(ROUNDS):
        Section.objects.of(site).delete()
        reading.append(timed(lambda: merely_read(content)))
        first.append(timed(loading))
        assert Section.objects.of(site).count() == ROWS
        again.append(timed(loading))
    ratio = min(first) / min(reading)
    print(f"openpyxl reads {ROWS} rows   {min(reading):6.2f} s")
    print(f"load                     {min(first):6.2f} s   ratio {ratio:.2f}   target {TARGET}")
    print(f"load again, unchanged    {min(again):6.2f} s   ratio {min(again) / min(reading):.2f}")


def main() -> None:
    """Make a database, measure in it, and throw it away."""
    import django

    django.setup()
    from django.db import connection
    from django.test.utils import override_settings

    with override_settings(DEBUG=False):  # with it Django keeps every query in memory
        name = connection.settings_dict["NAME"]
        connection.creation.create_test_db(verbosity=0)
        try:
            measure()
        finally:
            connection.creation.destroy_test_db(name, verbosity=0)


if __name__ == "__main__":
    main()

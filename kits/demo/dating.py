"""
The demo's sheets tell dates from the day the site is loaded: `day -12`, `day +30`, `day -12 09:30`.

Only the sheets in docs/demo are written so; the load path never sees it. Pure: no Django.
"""

from __future__ import annotations

import csv
import re
from datetime import date, timedelta
from pathlib import Path

_DAY = re.compile(r"day ([+-]\d+)(?: (\d{2}:\d{2}))?")


def dated(cell: str, first_day: date) -> str:
    """
    Return a cell with its day written as a date; any other cell as it is.

    >>> dated("day -12 09:30", date(2026, 3, 13)), dated("12 ft", date(2026, 3, 13))
    ('2026-03-01 09:30', '12 ft')
    """
    match = _DAY.fullmatch(cell)
    if not match:
        return cell
    day = first_day + timedelta(days=int(match[1]))
    return f"{day.isoformat()} {match[2]}" if match[2] else day.isoformat()


def offset_of(cell: str) -> int | None:
    """Return the days that a cell is from the first day, None when it tells no day."""
    match = _DAY.fullmatch(cell)
    return int(match[1]) if match else None


def write_dated_sheets(source: Path, target: Path, first_day: date) -> list[Path]:
    """Write every CSV of the folder `source` into `target` with real dates; CSVs of an earlier time go away first."""
    target.mkdir(parents=True, exist_ok=True)
    for old in target.glob("*.csv"):
        old.unlink()
    written = []
    for path in sorted(source.glob("*.csv")):
        with path.open(newline="", encoding="utf-8") as file:
            rows = [[dated(cell, first_day) for cell in row] for row in csv.reader(file)]
        copy = target / path.name
        with copy.open("w", newline="", encoding="utf-8") as file:
            csv.writer(file, lineterminator="\n").writerows(rows)
        written.append(copy)
    return written

"""The demo's sheets told over again for a site in metres, somewhere else: its units, its country, its code."""

import csv
import re
from datetime import date
from decimal import Decimal
from fractions import Fraction
from io import StringIO
from pathlib import Path

from kits.demo.dating import write_dated_sheets
from kits.demo.services import SHEETS
from takeoff.units.lengths import LengthError, parse_length
from takeoff.units.measures import MeasureError, factor, parse_volume, parse_weight

SITE = {
    "name": "Fjordheim", "unit": "m", "code": "other", "country": "NO", "currency": "EUR", "timezone": "Europe/Oslo",
    "keep_length": "10 m", "mark_allowance": "1%", "service_level": "95%", "buffer_days": "3",
    "ship_to": "Lager 2", "contact": "innkjop@fjordheim.example",
}  # fmt: skip
METRIC = {"500 kcmil": "240 mm2", "350 kcmil": "185 mm2", "4/0 AWG": "120 mm2", "250 kcmil": "150 mm2"}
METRIC |= {size.split()[0]: metric for size, metric in METRIC.items()}
"""Sizes of IEC 60228 near those of the demo."""
TEXT = {"description", "rule", "note"}
# People there write other words; that the figures beside them stay is nothing that anybody compares.
WORDS = {r"\bkcmil\b|\bAWG\b": "mm²", r"\bin\b(?= |,|$)": "mm", r"\bft\b": "m", r"\bfl oz\b": "mL"}
MARKS = {"outer_mark", "inner_mark"}


def write_abroad(folder: Path, day: date) -> None:
    """Write the demo's sheets as they would be written there, counted from a day."""
    for path in write_dated_sheets(SHEETS, folder, day):
        rows = list(csv.reader(StringIO(path.read_text(encoding="utf-8"))))
        heads, *lines = rows
        if path.stem == "site":
            heads, lines = list(SITE), [list(SITE.values())]
        else:
            units = [re.search(r"\((in|ft)\)", head) for head in heads]
            names = [head.split(" (")[0] for head in heads]
            heads = [f"{name} (mm)" if unit else name for name, unit in zip(names, units, strict=True)]
            lines = [
                [
                    told(name, cell, unit[1] if unit else None)
                    for name, cell, unit in zip(names, line, units, strict=True)
                ]
                for line in lines
            ]
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, delimiter=";").writerows([heads, *lines])


def told(name: str, cell: str, unit: str | None) -> str:
    """Return a cell as it would be written there."""
    if name in TEXT:
        for word, there in WORDS.items():
            cell = re.sub(word, there, cell)
        return cell
    if name == "source":
        return "drawing package" if "NFPA" in cell else "common practice"
    if cell in METRIC and name in {"size", "ground_min", "ground_max", "cable_min", "cable_max"}:
        return METRIC[cell]
    if name == "mark_unit":
        return "m"
    if name in MARKS and cell:
        return comma(Decimal(cell) * Decimal("0.3048"))
    if name == "weight":
        return comma(Decimal(cell) * Decimal("1.488"))
    if name == "unit_cost" and cell:
        return comma(Decimal(cell))
    if name in {"buy_lengths", "min_order"} and "ft" in cell:
        return ", ".join(f"{round(int(part.split()[0]) * 0.3)} m" for part in cell.split(","))
    if not cell or not re.match(r"\d", cell):
        return cell
    if unit:
        return comma(Decimal(parse_length(cell, bare=unit)) / 10_000)
    for parse, kind in ((parse_volume, "mL"), (parse_weight, "kg")):
        try:
            measure = parse(cell)
        except MeasureError:
            continue
        return f"{comma(Decimal(str(round(float(Fraction(measure.value) * factor(measure.unit, kind)), 1))))} {kind}"
    try:
        ticks = parse_length(cell, bare=None)
    except LengthError:
        return cell
    if ticks % 254_000 == 0 and ticks < 3_048_000 * 4 and "ft" not in cell and "'" not in cell:
        return f"{comma(Decimal(ticks) / 10_000)} mm"
    return f"{comma(Decimal(ticks) / 10_000_000)} m" if ticks >= 3_048_000 else f"{comma(Decimal(ticks) / 10_000)} mm"


def comma(number: Decimal) -> str:
    """Return a number with a decimal comma, to four places."""
    return f"{round(number, 4).normalize():f}".replace(".", ",")

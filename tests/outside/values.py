"""The values that others published or that follow from published rules, with their sources, in `values.csv`."""

import csv
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path


@dataclass(frozen=True)
class OutsideValue:
    """
    One row. `row["depth_A_in"]` is an input as a number, `exact` the same unrounded, `words["type"]` as it stands.

    status : read (where `source` says), common-practice, or memory.
    """

    id: str
    topic: str
    words: dict[str, str]
    expected: str
    source: str
    status: str

    def exact(self, name: str) -> Fraction:
        """An input without rounding."""
        whole, _, part = self.words[name].rpartition("-")  # 1-1/8 is one and an eighth
        return Fraction(whole or 0) + Fraction(part)

    def __getitem__(self, name: str) -> float:
        return float(self.exact(name))

    def several(self, name: str) -> list[int]:
        """An input of whole numbers with commas between them."""
        return [int(word) for word in self.words[name].split(",")]

    @property
    def figure(self) -> float:
        """What is expected, where it is one number."""
        return float(self.expected)


@cache
def all_rows() -> dict[str, OutsideValue]:
    """Return every row by its id."""
    with (Path(__file__).parent / "values.csv").open(encoding="utf-8", newline="") as file:
        return {
            row["id"]: OutsideValue(
                id=row["id"],
                topic=row["topic"],
                words=dict(pair.split("=", 1) for pair in row["inputs"].split(";") if "=" in pair),
                expected=row["expected"],
                source=row["source"],
                status=row["status"],
            )
            for row in csv.DictReader(file)
        }


def value(name: str) -> OutsideValue:
    """Return the row of an id such as REEL-11."""
    return all_rows()[name]


def values(first: str, last: str) -> list[OutsideValue]:
    """Return the rows from one id to another of its letters."""
    letters, start = first.split("-")
    return [value(f"{letters}-{number:02}") for number in range(int(start), int(last.split("-")[1]) + 1)]

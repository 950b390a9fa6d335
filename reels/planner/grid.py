"""The planning grid: lengths in ticks (1/10 000 mm) to and from whole steps of 0.1 ft, 1 in or 1 mm. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from reels.planner.problem import INCH, MILLIMETRE, TENTH_FOOT, Unit


@dataclass(frozen=True, slots=True)
class Grid:
    """A planning grid; `step` is one of its units. [ticks]"""

    unit: Unit
    step: int

    def up(self, ticks: int) -> int:
        """Return a needed length in whole steps, rounded up. [units]"""
        return -(-ticks // self.step)

    def down(self, ticks: int) -> int:
        """Return a length that is there in whole steps, rounded down. [units]"""
        return ticks // self.step

    def ticks(self, units: int) -> int:
        """Return whole steps as a length. [ticks]"""
        return units * self.step


GRIDS = {
    "0.1 ft": Grid(TENTH_FOOT, 304_800),
    "1 in": Grid(INCH, 254_000),
    "1 mm": Grid(MILLIMETRE, 10_000),
}


def grid_of(name: str, unit: str) -> Grid:
    """Return the grid of this name; where it is empty, 0.1 ft for lengths in ft and 1 mm for lengths in m."""
    return GRIDS[name or {"ft": "0.1 ft", "m": "1 mm"}[unit]]

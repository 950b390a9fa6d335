"""Whether the conductors of a set are alike: by tape, or by the marks of one family of reels. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor


@dataclass(frozen=True, slots=True)
class SetCut:
    """
    A conductor of a set as it was cut. [ticks]

    taped : its taped length. by_marks : its length by the marks, which a reel and all pieces off it share, a `family`.
    """

    conductor: str
    family: str
    taped: int | None = None
    by_marks: int | None = None

    def between(self, allowance: Fraction) -> tuple[Fraction, Fraction] | None:
        """Return the least and the most that it can be, its marks off by the allowance; None where nobody measured."""
        if self.taped is not None:
            return Fraction(self.taped), Fraction(self.taped)
        if self.by_marks is None:
            return None
        return self.by_marks * (1 - allowance), self.by_marks * (1 + allowance)


@dataclass(frozen=True, slots=True)
class SetComparison:
    """
    How alike the conductors of a set are.

    by : "tape", "one reel", "marks" of two reels, or "" when it cannot be verified.
    spread : longest less shortest; the least that it can be, where that proves them unequal. [ticks]; None when it
    cannot be verified.
    equal : whether the spread is within the tolerance; None when it cannot be verified.
    """

    by: str
    spread: int | None
    equal: bool | None

    def __str__(self) -> str:
        if self.equal is None:
            return "cannot be verified"
        return f"{'equal' if self.equal else 'not equal'} by {self.by}"


def compare_set(cuts: Sequence[SetCut], tolerance: int, allowance: Fraction) -> SetComparison:
    """
    Compare the conductors of a set: by tape, or by the marks of one family of reels.

    Marks of two families may each be off by the allowance: they prove no set equal. Two conductors that differ by more
    than the tolerance, however far off their marks are, prove it unequal. tolerance : [ticks]
    """
    taped = [cut.taped for cut in cuts if cut.taped is not None]
    marked = [cut.by_marks for cut in cuts if cut.by_marks is not None]
    if cuts and len(taped) == len(cuts):
        return _comparison("tape", taped, tolerance)
    if cuts and len(marked) == len(cuts) and len({cut.family for cut in cuts}) == 1:
        return _comparison("one reel", marked, tolerance)
    apart, by = max(
        (_apart(one, other, allowance) for place, one in enumerate(cuts) for other in cuts[place + 1 :]),
        default=(0, ""),
    )
    return SetComparison(by, apart, equal=False) if apart > tolerance else SetComparison("", None, equal=None)


def _apart(one: SetCut, other: SetCut, allowance: Fraction) -> tuple[int, str]:
    """Return the least by which two conductors differ, and what tells it. [ticks]"""
    if one.taped is not None and other.taped is not None:
        return abs(one.taped - other.taped), "tape"
    if one.family == other.family and one.by_marks is not None and other.by_marks is not None:
        return floor(abs(one.by_marks - other.by_marks) * (1 - allowance)), "one reel"
    first, second = one.between(allowance), other.between(allowance)
    if first is None or second is None:
        return 0, ""
    below, above = first[0] - second[1], second[0] - first[1]
    return max(0, floor(below), floor(above)), "marks"


def _comparison(by: str, lengths: list[int], tolerance: int) -> SetComparison:
    spread = max(lengths) - min(lengths)
    return SetComparison(by=by, spread=spread, equal=spread <= tolerance)

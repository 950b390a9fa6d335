"""
What a cut planner is asked: the reels, the lengths needed, and what a good plan is.

Everything is for one cable and in whole units of one planning grid (0.1 ft, 1 in, 1 mm). The caller rounds:
lengths needed up, lengths on reels down. Only `Unit.per_foot` knows how long a unit is.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property


class ProblemError(ValueError):
    """The problem contradicts itself; `problems` holds one sentence for each contradiction."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("; ".join(problems))
        self.problems = problems


@dataclass(frozen=True, slots=True)
class Unit:
    """One step of the planning grid. `per_foot`: how many of them make a foot (10, 12, 304.8 as 1524/5)."""

    label: str
    per_foot: Fraction

    def feet(self, units: int | Fraction) -> Fraction:
        """`units` [units] in feet, exactly."""
        return Fraction(units) / self.per_foot


TENTH_FOOT = Unit("0.1 ft", Fraction(10))
INCH = Unit("1 in", Fraction(12))
MILLIMETRE = Unit("1 mm", Fraction(1524, 5))


@dataclass(frozen=True, slots=True)
class Rates:
    """Feet of scrap that one whole reel opened, one remnant made, one set-up is worth. [ft], none negative."""

    whole: Fraction = Fraction(10)
    remnant: Fraction = Fraction(2)
    setup: Fraction = Fraction(1, 5)


@dataclass(frozen=True, slots=True)
class Limits:
    """
    How much work the planner may do.

    seconds : wall clock, the outer guard; 0 gives the first plan only. [s]
    rounds : pricing rounds of one column generation.
    tries : neighbourhoods solved in a row without a gain before the planner gives up.
    nodes : branch-and-bound nodes of one solver call.
    The counts, not the clock, should end a run that must be repeatable.
    """

    seconds: float = 10.0
    rounds: int = 400
    tries: int = 250
    nodes: int = 20_000


@dataclass(frozen=True, slots=True)
class StockReel:
    """
    A reel as it lies in the yard.

    length : cable left on it, rounded down. [units]
    whole : nothing was ever cut from it, so it could still go back to the supplier.
    tail : length at its end that is not trusted and never planned. [units]
    frozen : (demand id, pieces) that will come off this reel whatever the plan says; they are part of the
        demand's count and of `length`. Cuts already made are in neither.
    """

    id: str
    length: int
    whole: bool
    tail: int = 0
    frozen: tuple[tuple[str, int], ...] = ()

    @property
    def usable(self) -> int:
        """Length that may be planned. [units]"""
        return max(0, self.length - self.tail)


@dataclass(frozen=True, slots=True)
class Demand:
    """
    Equal lengths that are needed together.

    length : one piece, rounded up. [units]
    count : pieces still to be cut.
    set_id : pieces of one set are cut as equals or the set is incomplete. Empty: the demand is its own set.
    run_id : a set-up is one run on one reel. Empty: the demand is its own run.
    date_class : 1 is pulled first; where cable is short, an earlier class never gives way to a later one.
    weight : worth of a foot of it that stays uncut, used when the problem ranks unmet lengths by weight.
    """

    id: str
    length: int
    count: int
    set_id: str = ""
    run_id: str = ""
    date_class: int = 1
    weight: int = 1

    @property
    def set_key(self) -> str:
        """The set it belongs to."""
        return self.set_id or self.id

    @property
    def run_key(self) -> str:
        """The run it belongs to."""
        return self.run_id or self.id


@dataclass(frozen=True, slots=True)
class Assigned:
    """`pieces` pieces of a demand come off a reel."""

    reel: str
    demand: str
    pieces: int


@dataclass(frozen=True)
class Problem:
    """
    One cable to plan.

    keep : an end piece at or above it is a remnant, below it (and above zero) scrap. [units], above 0
    rates : what the levels trade at; not used when `strict`.
    strict : least scrap first, then fewest whole reels opened, then fewest remnants, then fewest set-ups.
    unmet_by_sets : where cable is short, fewest incomplete sets by date class, then fewest feet (a site);
        False: least weighted length (a bare file).
    kept : an accepted plan. It is changed only as far as cutting more makes necessary.
    buy_lengths : reel lengths that can be bought. [units]
    """

    unit: Unit
    reels: tuple[StockReel, ...]
    demands: tuple[Demand, ...]
    keep: int
    rates: Rates = Rates()
    strict: bool = False
    unmet_by_sets: bool = True
    kept: tuple[Assigned, ...] = ()
    buy_lengths: tuple[int, ...] = ()
    limits: Limits = field(default=Limits())

    @cached_property
    def date_classes(self) -> tuple[int, ...]:
        """The date classes that occur, earliest first."""
        return tuple(sorted({demand.date_class for demand in self.demands}))

    @cached_property
    def set_classes(self) -> dict[str, int]:
        """Each set with its date class, the earliest of its demands."""
        classes: dict[str, int] = {}
        for demand in self.demands:
            known = classes.get(demand.set_key, demand.date_class)
            classes[demand.set_key] = min(known, demand.date_class)
        return classes

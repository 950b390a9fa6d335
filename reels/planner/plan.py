"""What a cut planner answers: the pieces on each reel, what stays uncut, and how good that is proven to be."""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

# (stage, elapsed [s], levels reached, bounds proven); a true answer stops the planner.
Progress = Callable[[str, float, "Levels", "Bounds"], object]


@dataclass(frozen=True, slots=True)
class Levels:
    """
    How a plan does, level by level.

    sets_incomplete : sets with a piece missing, one number per date class of the problem, earliest first.
    unmet_weighted : uncut length times weight. [units]
    unmet : uncut length. [units]
    scrap : end pieces below the keep length on reels that were cut. [units]
    whole_reels : whole reels that were cut.
    remnants : end pieces worth keeping on reels that were cut.
    setups : pairs of run and reel.
    """

    sets_incomplete: tuple[int, ...]
    unmet_weighted: int
    unmet: int
    scrap: int
    whole_reels: int
    remnants: int
    setups: int


@dataclass(frozen=True, slots=True)
class Bounds:
    """
    What no plan can be better than, level by level; None where nothing is proven.

    The unmet levels hold for every plan. Scrap, whole reels, remnants and set-ups hold for every plan that cuts
    everything, and are None where something stays uncut; in the strict order each of them holds for every plan that
    is also no worse at those before it. `cost` [ft] is the bound on the traded total (None in the strict order).
    """

    sets_incomplete: tuple[int, ...] | None = None
    unmet_weighted: int | None = None
    unmet: int | None = None
    scrap: int | None = None
    whole_reels: int | None = None
    remnants: int | None = None
    setups: int | None = None
    cost: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Pieces:
    """`pieces` equal pieces of one demand, one after the other."""

    demand: str
    pieces: int


@dataclass(frozen=True, slots=True)
class ReelLoad:
    """
    The pieces that come off one reel, in the order to cut them, and the end piece.

    end : what is left after the cuts, the safety tail not counted. [units]
    end_is : "used up", "remnant" or "scrap".
    """

    reel: str
    cuts: tuple[Pieces, ...]
    end: int
    end_is: str


@dataclass(frozen=True, slots=True)
class Purchase:
    """`count` reels of `length` [units] to buy."""

    length: int
    count: int


@dataclass(frozen=True, slots=True)
class Plan:
    """
    A cut plan with its proof.

    loads : the reels that are cut, in the problem's order.
    unmet : demands that cannot be cut in full with the missing pieces, in the problem's order.
    buy : what to buy so that everything can be cut, fewest feet; empty when nothing is unmet or buyable.
    buy_bound : no purchase below this total is enough; None when nothing is bought. [units]
    after_buying : loads that cut everything from the reels on hand and the bought ones ("buy 5000 #1"; a number that
        would meet the name of a reel on hand is left out).
    cost : scrap plus what the rates charge [ft]; in the strict order only for information.
    stopped : "proven" (nothing better exists), "finished" (work limits used up), "time" (the clock ended it, or one
        of its stages) or "asked".
    seconds : wall clock used. [s]
    """

    loads: tuple[ReelLoad, ...]
    unmet: tuple[Pieces, ...]
    levels: Levels
    bounds: Bounds
    cost: Fraction
    buy: tuple[Purchase, ...] = ()
    buy_bound: int | None = None
    after_buying: tuple[ReelLoad, ...] = ()
    stopped: str = "finished"
    seconds: float = 0.0

    @property
    def gap(self) -> Fraction | None:
        """Feet of cost between this plan and the bound, at the rates; None when no bound is known."""
        return None if self.bounds.cost is None else max(Fraction(0), self.cost - self.bounds.cost)

    @property
    def proven(self) -> dict[str, bool]:
        """For each level whether no plan can do better at it."""
        names = ("sets_incomplete", "unmet_weighted", "unmet", "scrap", "whole_reels", "remnants", "setups")
        return {name: getattr(self.bounds, name) == getattr(self.levels, name) for name in names}

"""Gathers what is proven about each level and puts it on a plan, never above what the plan reaches."""

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np

from reels.planner.area import fewest_setups, fewest_whole, holdings, least_unmet
from reels.planner.core import Core, cost_weights
from reels.planner.plan import Bounds, Plan
from reels.planner.problem import Problem
from reels.planner.short.shortfall import Shortfall


class ProvenBounds:
    """
    Bounds that hold for every plan of the problem, raised by whoever proves more.

    `scrap`, `cost` and so on speak of plans that cut everything; they count only for plans that do.
    """

    def __init__(self, problem: Problem, core: Core) -> None:
        self.problem = problem
        self.core = core
        held = holdings(core)
        weights = np.array([demand.weight for demand in problem.demands], dtype=np.int64)
        self.unmet_weighted = least_unmet(core, held, weights)
        self.unmet = least_unmet(core, held, np.ones_like(weights))
        self.sets = least_incomplete(problem, core, held.total)
        self.needed = int(core.lengths @ core.counts)
        self.frozen_whole = sum(reel.whole and bool(reel.frozen) for reel in problem.reels)
        self.whole_reels = self.frozen_whole + fewest_whole(core, held, self.needed)
        self.frozen_setups = sum(len(runs) for runs in core.frozen_runs)
        self.setups = fewest_setups(core) + self.frozen_setups
        self.scrap = 0
        self.remnants = 0
        self.cost = Fraction(0)
        # The best possible order of what stays uncut, where it is known.
        self.least_short: tuple[object, ...] | None = None
        # Strict order: (caps, least); no plan whose first levels are no more than the caps has less of the next.
        self.given: list[tuple[tuple[int, ...], int]] = []

    @property
    def short_rank(self) -> tuple[object, ...]:
        """The bound on what stays uncut, in the order that the problem ranks it."""
        if self.least_short is not None:
            return self.least_short
        return (self.sets, self.unmet) if self.problem.unmet_by_sets else (self.unmet_weighted,)

    @property
    def short_levels(self) -> tuple[tuple[int, ...], int, int]:
        """The bounds on incomplete sets, on what stays uncut and on its weighted length."""
        return self.sets, self.unmet, self.unmet_weighted

    def take_short(self, found: Shortfall) -> None:
        """Take over what an exact search proved about the least that stays uncut."""
        self.sets = max(self.sets, found.sets or ())
        self.unmet = max(self.unmet, found.unmet or 0)
        self.unmet_weighted = max(self.unmet_weighted, found.weighted or 0)
        self.least_short = found.least

    def cost_at_least(self, bound: float) -> None:
        """Take over a bound on the core's cost for plans that cut everything (at rates)."""
        weight, scale = cost_weights(self.problem)
        frozen = weight[1] * self.frozen_whole + weight[3] * self.frozen_setups
        least = _whole_number(bound) + frozen
        self.cost = max(self.cost, Fraction(least, scale) / self.problem.unit.per_foot)

    def scrap_at_least(self, bound: float) -> None:
        """Take over a bound on scrap [units] for plans that cut everything."""
        self.scrap = max(self.scrap, _whole_number(bound))

    def least_given(self, caps: tuple[int, ...], bound: float) -> None:
        """
        Take over a bound on the level after the capped ones, for plans that cut everything and keep to the caps.

        caps : the core's scrap, whole reels and so on, as many as there are levels before.
        """
        frozen = (0, self.frozen_whole, 0, self.frozen_setups)
        all_caps = tuple(cap + more for cap, more in zip(caps, frozen, strict=False))
        self.given.append((all_caps, _whole_number(bound) + frozen[len(caps)]))

    def settled(self, plan: Plan) -> bool:
        """Whether nothing better than this plan can exist."""
        if plan.levels.unmet:
            return False
        if self.problem.strict:
            return all(done for name, done in plan.proven.items() if name not in ("sets_incomplete", "unmet_weighted"))
        return plan.gap == 0

    def attach(self, plan: Plan) -> Plan:
        """Return the plan with all that is proven about its levels."""
        all_cut = plan.levels.unmet == 0
        bounds = Bounds(
            sets_incomplete=self.sets if self.problem.unmet_by_sets else None,
            unmet_weighted=self.unmet_weighted,
            unmet=self.unmet,
        )
        if all_cut:
            least = [self.scrap, self.whole_reels, self.remnants, self.setups]
            if self.problem.strict:
                levels = plan.levels
                reached = (levels.scrap, levels.whole_reels, levels.remnants)
                for caps, bound in self.given:
                    if all(level <= cap for level, cap in zip(reached, caps, strict=False)):
                        least[len(caps)] = max(least[len(caps)], bound)
            scrap, whole, remnants, setups = least
            bounds = replace(
                bounds,
                scrap=scrap,
                whole_reels=whole,
                remnants=remnants,
                setups=setups,
                cost=None if self.problem.strict else max(self.cost, self._cost_of_levels()),
            )
        return replace(plan, bounds=bounds)

    def _cost_of_levels(self) -> Fraction:
        """Return the levels' own bounds, added up at the rates. [ft]"""
        rates = self.problem.rates
        return (
            self.problem.unit.feet(self.scrap)
            + rates.whole * self.whole_reels
            + rates.remnant * self.remnants
            + rates.setup * self.setups
        )


def _whole_number(bound: float) -> int:
    """Return the least whole number that is no less than a bound, after a little is taken off for its rounding."""
    return math.ceil(bound - max(1e-4, 1e-9 * abs(bound)))


def least_incomplete(problem: Problem, core: Core, total: int) -> tuple[int, ...]:
    """
    Fewest incomplete sets per date class, earliest class first, if only the total length counted.

    In each class the shortest sets are completed first: no plan completes more of them with as little, so what is
    left for the next class is no less than in any plan that does as well so far.
    """
    longest = int(core.capacity.max(initial=0))
    needs = dict.fromkeys(problem.set_classes, 0)
    hopeless = set()
    for demand, count in zip(problem.demands, core.counts.tolist(), strict=True):
        needs[demand.set_key] += demand.length * count
        if count and demand.length > longest:
            hopeless.add(demand.set_key)
    result = []
    for date_class in problem.date_classes:
        members = sorted(
            needs[key] for key, its in problem.set_classes.items() if its == date_class and key not in hopeless
        )
        incomplete = sum(its == date_class and key in hopeless for key, its in problem.set_classes.items())
        for need in members:
            if need <= total:
                total -= need
            else:
                incomplete += 1
        result.append(incomplete)
    return tuple(result)

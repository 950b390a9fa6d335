"""What a planner may choose when asking for a cut plan. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field

from reels.planner.problem import Rates


@dataclass(frozen=True, slots=True)
class Options:
    """
    How to plan a cable.

    rates, strict : what the levels trade at, or the strict order. with_coming : count on reels that are on the way.
    seconds : wall clock, the outer guard.
    """

    rates: Rates = field(default_factory=Rates)
    strict: bool = False
    with_coming: bool = False
    seconds: float = 10.0

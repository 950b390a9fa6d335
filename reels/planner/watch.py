"""The clock, the person watching, and the best plan so far: what every stage of the planner shares."""

import time
from collections.abc import Callable

from reels.planner.core import Core, Ints
from reels.planner.problem import Limits

# What seconds are measured by; a benchmark on a busy machine puts processor time here.
clock = time.monotonic
# Whoever watches is told at least this often, so that a wish to stop is heard. [s]
TELL_EVERY = 0.5


class Watch:
    """
    Keeps the best matrix of pieces and says when to stop.

    report : called as report(stage, elapsed) after each stage and each gain, and now and then in between; a true
        answer stops the planner.
    see : called with every matrix that is offered, best or not.
    """

    def __init__(
        self,
        limits: Limits,
        report: Callable[[str, float], object] | None = None,
        see: Callable[[Ints], None] | None = None,
    ) -> None:
        self.limits = limits
        self.began = clock()
        self.asked = False
        self.timed_out = False
        # Whether the clock ended anything, be it one stage: with more time the answer could be another.
        self.clocked = False
        self.best: Ints | None = None
        self.best_rank: tuple[int, ...] | None = None
        self._report = report
        self._see = see
        self._stage = ""
        self._told = 0.0

    def elapsed(self) -> float:
        """Wall clock since the start. [s]"""
        return clock() - self.began

    def left(self) -> float:
        """Wall clock that is left, never below zero. [s]"""
        return max(0.0, self.limits.seconds - self.elapsed())

    def over(self) -> bool:
        """Whether to stop now, because time is up or because someone asked."""
        if self.left() <= 0:
            self.timed_out = self.clocked = True
        self.hear()
        return self.asked or self.timed_out

    def hear(self) -> None:
        """Report again if the last report was a while ago, because only who is told can ask to stop."""
        if self.elapsed() - self._told >= TELL_EVERY:
            self.tell(self._stage)

    def until(self, share: float) -> Callable[[], bool]:
        """Return a stop for one stage that may use this share of the time that is left now."""
        end = self.elapsed() + share * self.left()

        def over() -> bool:
            if self.elapsed() >= end:
                self.clocked = True
                return True
            return self.over()

        return over

    def tell(self, stage: str) -> None:
        """Report a stage; the answer may stop the planner."""
        self._stage, self._told = stage, self.elapsed()
        if self._report is not None and self._report(stage, self._told):
            self.asked = True

    def offer(self, core: Core, pieces: Ints, stage: str) -> bool:
        """Keep these pieces if they are the best so far; True when they are."""
        if self._see is not None:
            self._see(pieces)
        rank = core.rank(pieces)
        if self.best_rank is not None and rank >= self.best_rank:
            return False
        self.best, self.best_rank = pieces.copy(), rank
        self.tell(stage)
        return True

    def forget(self) -> None:
        """Drop the best plan, because the next offers are ranked by another core."""
        self.best = self.best_rank = None

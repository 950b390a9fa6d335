"""
What finished stages teach about the use of an item.

A finished stage k with the plan D_k used U_k = rate x D_k + error, the error's variance being phi x D_k: twice the
work, twice the variance. The rate is believed to be 1, with the weight of `prior_stages` mean stages, and phi to be
0.1, with the weight of 4 observations; both beliefs give way to what is observed (conjugate normal regression with
known weights and a scaled inverse chi-squared variance; Gelman et al., Bayesian Data Analysis, 3rd ed., ch. 3 and 14).

Plans and uses are in ticks outside and in mean planned stages inside, so that the beliefs mean the same for every
item. Everything is exact except the quantile itself.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import ceil, sqrt

from scipy.stats import t as student_t

PRIOR_RATE = Fraction(1)
PRIOR_PHI = Fraction(1, 10)
PRIOR_NU = 4


@dataclass(frozen=True, slots=True)
class Belief:
    """
    What is believed of an item's use: the posterior of rate and variance.

    mean_stage : the item's mean planned stage. [ticks]
    rate : use over plan. kappa : the mean stages that it rests on. nu : degrees of freedom.
    phi : variance of the use of one mean stage. [mean stages squared]
    """

    mean_stage: Fraction
    rate: Fraction
    kappa: Fraction
    nu: int
    phi: Fraction


def learn(finished: Iterable[tuple[int, int]], *, mean_stage: Fraction, prior_stages: Fraction) -> Belief:
    """
    Return the belief after the finished stages.

    finished : (planned, used) of each; those without a plan teach nothing. [ticks]
    mean_stage : mean of the item's planned stages, above 0. [ticks]
    prior_stages : the weight of the belief that use follows the plan, above 0. [mean stages]
    Raises ValueError where a weight or the mean stage is not above 0.
    """
    if mean_stage <= 0 or prior_stages <= 0:
        raise ValueError(f"mean stage and prior stages must be above 0, got {mean_stage} and {prior_stages}")
    pairs = [(Fraction(plan) / mean_stage, Fraction(used) / mean_stage) for plan, used in finished if plan > 0]
    kappa = prior_stages + sum(plan for plan, _ in pairs)
    rate = (prior_stages * PRIOR_RATE + sum(used for _, used in pairs)) / kappa
    nu = PRIOR_NU + len(pairs)
    spread = sum((used - rate * plan) ** 2 / plan for plan, used in pairs)
    phi = (PRIOR_NU * PRIOR_PHI + spread + prior_stages * (PRIOR_RATE - rate) ** 2) / nu
    return Belief(mean_stage=mean_stage, rate=rate, kappa=kappa, nu=nu, phi=phi)


def expected_use(belief: Belief, *, planned: int, issued: int) -> int:
    """
    Return what an open stage is still expected to use: rate x planned - issued, never below 0.

    planned, issued : of that stage. [ticks]
    Returns whole ticks, rounded up, so that the stages add up to their pool. [ticks]
    """
    return max(0, ceil(belief.rate * planned) - issued)


def covered_use(belief: Belief, *, expected: int, level: Fraction) -> int:
    """
    Return the quantity that covers the use of a pool of open stages with probability `level`.

    expected : what the pool is still expected to use. [ticks]
    level : service level, 0.5 to 0.999.
    Returns whole ticks, rounded up. [ticks]
    Raises ValueError for a level outside its range.

    The part of the plan that is still ahead of the pool is D* = expected / rate. Its use has Student's t distribution
    with nu degrees of freedom, mean rate x D* and scale squared phi x D* x (1 + D* / kappa).
    """
    if not Fraction(1, 2) <= level <= Fraction(999, 1000):
        raise ValueError(f"service level {float(level)} is outside 0.5 to 0.999")
    if expected <= 0:
        return 0
    ahead = Fraction(expected) / belief.mean_stage / belief.rate
    scale = sqrt(belief.phi * ahead * (1 + ahead / belief.kappa))
    margin = quantile(float(level), belief.nu) * scale * float(belief.mean_stage)
    # Noise of the float below a millionth of a tick must not add another tick.
    return expected + ceil(round(margin, 6))


@lru_cache(maxsize=4096)
def quantile(level: float, nu: int) -> float:
    """Return the quantile of Student's t distribution at `level` with `nu` degrees of freedom, 0 at the middle."""
    return 0.0 if level == 0.5 else float(student_t.ppf(level, nu))

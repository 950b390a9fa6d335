"""
What finished stages teach about the use of an item.

A finished stage k with the plan D_k used U_k = rate x D_k + error, the error's variance being phi x D_k: twice the
work, twice the variance. What is believed of rate and variance before any stage is finished is the prior of its class
of use, and gives way to what is observed (conjugate normal regression with known weights and a scaled inverse
chi-squared variance; Gelman et al., Bayesian Data Analysis, 3rd ed., ch. 3 and 14).

Plans and uses are in ticks outside and in mean planned stages inside, so that the beliefs mean the same for every
item. Everything is exact except the quantile itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import ceil, sqrt

FAR = 3  # spreads from what the other stages let expect, beyond which a stage is asked about


@dataclass(frozen=True, slots=True)
class Prior:
    """
    What is believed of an item's use before any stage is finished.

    rate : use over plan, worth `rate_worth` mean stages. spread : of the use of one mean stage, a standard deviation
    in mean stages, worth `spread_worth` finished stages. All above 0.
    Raises ValueError where one is not.
    """

    rate: Fraction
    rate_worth: Fraction
    spread: Fraction
    spread_worth: int

    def __post_init__(self) -> None:
        if any(part <= 0 for part in (self.rate, self.rate_worth, self.spread, self.spread_worth)):
            raise ValueError(f"every part of a prior must be above 0, got {self}")

    @property
    def phi(self) -> Fraction:
        """The variance of the use of one mean stage. [mean stages squared]"""
        return self.spread**2


# By class of use: judgement, checked by simulation (docs/decisions/priors-of-use.md).
PRIORS: Mapping[str, Prior] = {
    "counted": Prior(Fraction(103, 100), Fraction(2), Fraction(5, 100), 4),
    "wiped": Prior(Fraction(110, 100), Fraction(3, 2), Fraction(15, 100), 4),
    "bead": Prior(Fraction(120, 100), Fraction(1), Fraction(25, 100), 4),
}


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


def learn(finished: Iterable[tuple[int, int]], *, mean_stage: Fraction, prior: Prior) -> Belief:
    """
    Return the belief after the finished stages.

    finished : (planned, used) of each; those without a plan teach nothing. [ticks]
    mean_stage : mean of the item's planned stages, above 0. [ticks]
    Raises ValueError where the mean stage is not above 0.
    """
    if mean_stage <= 0:
        raise ValueError(f"the mean stage must be above 0, got {mean_stage}")
    pairs = [(Fraction(plan) / mean_stage, Fraction(used) / mean_stage) for plan, used in finished if plan > 0]
    kappa = prior.rate_worth + sum(plan for plan, _ in pairs)
    rate = (prior.rate_worth * prior.rate + sum(used for _, used in pairs)) / kappa
    nu = prior.spread_worth + len(pairs)
    errors = sum((used - rate * plan) ** 2 / plan for plan, used in pairs)
    phi = (prior.spread_worth * prior.phi + errors + prior.rate_worth * (prior.rate - rate) ** 2) / nu
    return Belief(mean_stage=mean_stage, rate=rate, kappa=kappa, nu=nu, phi=phi)


def far_off(finished: Sequence[tuple[int, int]], *, mean_stage: Fraction, prior: Prior) -> tuple[bool, ...]:
    """
    Return for each finished stage whether its use lies more than FAR spreads from what all the others let expect.

    finished : (planned, used) of each, planned above 0. [ticks]
    The spread is that of the predictive distribution: sqrt(phi x D x (1 + D / kappa)). In floats: it decides no count.
    """
    mean, worth = float(mean_stage), float(prior.rate_worth)
    pairs = [(plan / mean, used / mean) for plan, used in finished]
    plans, uses = sum(plan for plan, _ in pairs), sum(used for _, used in pairs)
    squares = sum(used * used / plan for plan, used in pairs)
    least = prior.spread_worth * float(prior.phi)
    nu = prior.spread_worth + len(pairs) - 1
    found = []
    for plan, used in pairs:
        kappa = worth + plans - plan
        rate = (worth * float(prior.rate) + uses - used) / kappa
        errors = squares - used * used / plan + worth * float(prior.rate) ** 2 - kappa * rate**2
        phi = (least + max(0.0, errors)) / nu
        found.append(abs(used - rate * plan) > FAR * sqrt(phi * plan * (1 + plan / kappa)))
    return tuple(found)


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
    from scipy.special import stdtrit  # half a second, and numpy: only for who asks

    return 0.0 if level == 0.5 else float(stdtrit(nu, level))

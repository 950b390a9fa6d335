"""
Learned use against SciPy's Student t, a numeric integral over the prior, and printed quantiles.

The model is a normal regression through the origin with weights known, the conjugate normal-inverse-gamma case of
Gelman et al., Bayesian Data Analysis (3rd ed.), sections 3.3 and 14.2. The integral below uses only the prior and the
likelihood, none of the closed forms that the code uses.
"""

from fractions import Fraction
from math import lgamma, log, pi, sqrt

import numpy as np
import pytest
from scipy.stats import norm
from scipy.stats import t as student_t

from kits.shortages.reckon.usage import PRIORS, Prior, covered_use, learn, quantile
from tests.outside.values import value, values

MEAN = Fraction(100_000)  # ticks of a mean stage: 10 of the item's unit
HISTORIES = {
    "nothing finished": [],
    "one stage as planned": [(100_000, 100_000)],
    "one stage far over": [(100_000, 260_000)],
    "three uneven stages": [(50_000, 80_000), (100_000, 110_000), (200_000, 330_000)],
    "crews that use less": [(80_000, 50_000), (120_000, 70_000), (100_000, 65_000), (100_000, 40_000)],
}


def predictive_cdf(history, prior, ahead, at):
    """
    P(use of `ahead` mean stages <= at), by summing over a grid of rate and variance [mean stages].

    Prior: phi is spread_worth x spread^2 over a chi-squared of spread_worth, rate given phi is normal with the prior's
    rate as its mean and the variance phi / rate_worth.
    """
    mean, worth = float(prior.rate), float(prior.rate_worth)
    spread, freedom = float(prior.spread), prior.spread_worth
    log_phi = np.linspace(log(spread**2) - 6, log(spread**2) + 11, 2401)
    phi = np.exp(log_phi)[:, None]
    # The rate's grid follows phi, so that narrow and wide conditionals are both resolved.
    plans = np.array([plan / float(MEAN) for plan, _ in history])
    uses = np.array([use / float(MEAN) for _, use in history])
    centre = (worth * mean + uses.sum()) / (worth + plans.sum())
    z = np.linspace(-9, 9, 361)[None, :]
    width = np.sqrt(phi / (worth + plans.sum()))
    rate = centre + z * width
    # Scaled inverse chi-squared density in log(phi): one factor phi for the change of variable.
    half, scale = freedom / 2, freedom * spread**2 / 2
    log_weight = half * log(scale) - lgamma(half) - half * np.log(phi) - scale / phi
    log_weight = log_weight - 0.5 * np.log(2 * pi * phi / worth) - 0.5 * worth * (rate - mean) ** 2 / phi
    for plan, use in zip(plans, uses, strict=True):
        log_weight = log_weight - 0.5 * np.log(2 * pi * phi * plan) - 0.5 * (use - rate * plan) ** 2 / (phi * plan)
    weight = np.exp(log_weight - log_weight.max()) * width
    below = norm.cdf((at - rate * ahead) / np.sqrt(phi * ahead))
    return float((weight * below).sum() / weight.sum())


@pytest.mark.parametrize("history", HISTORIES.values(), ids=HISTORIES.keys())
@pytest.mark.parametrize("level", [0.5, 0.8, 0.95, 0.99])
@pytest.mark.parametrize("ahead", [Fraction(1, 2), Fraction(6)])
@pytest.mark.parametrize("prior", PRIORS.values(), ids=PRIORS.keys())
def test_the_cover_holds_with_its_probability_by_numeric_integration(prior, history, level, ahead):
    belief = learn(history, mean_stage=MEAN, prior=prior)
    expected = int(belief.rate * ahead * MEAN)
    cover = covered_use(belief, expected=expected, level=Fraction(str(level)))

    pool = expected / float(belief.rate) / float(MEAN)
    assert predictive_cdf(history, prior, pool, cover / float(MEAN)) == pytest.approx(level, abs=2e-4)


@pytest.mark.parametrize("history", HISTORIES.values(), ids=HISTORIES.keys())
@pytest.mark.parametrize("prior", PRIORS.values(), ids=PRIORS.keys())
def test_the_cover_is_scipys_quantile_of_the_predictive_t(prior, history):
    belief = learn(history, mean_stage=MEAN, prior=prior)
    pool = 3.0
    scale = sqrt(float(belief.phi) * pool * (1 + pool / float(belief.kappa)))
    frozen = student_t(df=belief.nu, loc=float(belief.rate) * pool, scale=scale)
    cover = covered_use(belief, expected=round(belief.rate * 3 * MEAN), level=Fraction(95, 100))

    assert cover / float(MEAN) == pytest.approx(frozen.ppf(0.95), abs=3e-5)


@pytest.mark.parametrize(
    ("level", "nu", "printed"),
    [
        (0.90, 4, 1.533),
        (0.95, 4, 2.132),
        (0.99, 4, 3.747),
        (0.95, 5, 2.015),
        (0.95, 10, 1.812),
        (0.99, 10, 2.764),
        (0.95, 30, 1.697),
        (0.999, 30, 3.385),
    ],
)
def test_quantiles_are_those_of_the_printed_table(level, nu, printed):
    """Upper critical values of Student's t as in the NIST/SEMATECH e-Handbook, 1.3.6.7.2 (values from memory)."""
    assert quantile(level, nu) == pytest.approx(printed, abs=0.0006)


@pytest.mark.parametrize("outside", values("INVT-08", "INVT-11"), ids=lambda outside: outside.id)
def test_with_much_evidence_the_cover_is_the_safety_stock_of_textbooks(outside):
    z = quantile(outside["service"], 200_000)
    assert z * outside["sd"] * sqrt(outside["lead_weeks"]) == pytest.approx(outside.figure, abs=0.1)


def test_with_much_evidence_the_cover_over_a_lead_time_is_the_reorder_point_of_textbooks():
    outside = value("INVT-05")
    spread = quantile(outside["service"], 200_000) * outside["sd"] * sqrt(outside["lead"])
    assert outside["d"] * outside["lead"] + spread == pytest.approx(outside.figure, abs=0.02)


def test_a_prior_of_much_weight_covers_like_a_known_rate():
    """
    With the rate and the variance known, cover over D stages is D + z sqrt(phi D): the textbook's safety stock
    z x sd x sqrt(L), here L = 9 stages, sd = 0.3. Only phi is still uncertain, hence t with 4 degrees.
    """
    sure = Prior(Fraction(1), rate_worth=Fraction(10**9), spread=Fraction(3, 10), spread_worth=4)
    belief = learn([], mean_stage=MEAN, prior=sure)
    cover = covered_use(belief, expected=900_000, level=Fraction(95, 100)) / float(MEAN)

    assert cover == pytest.approx(9 + 2.1318 * 0.3 * sqrt(9), abs=1e-3)


def test_the_integral_itself_is_right_where_the_answer_is_known():
    """Before any stage is finished, half of the probability lies below what the prior expects."""
    assert predictive_cdf([], PRIORS["bead"], 4.0, 4.8) == pytest.approx(0.5, abs=1e-6)

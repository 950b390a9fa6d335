"""Use is learned from finished stages and covered at the site's service level."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.shortages.reckon.usage import covered_use, expected_use, learn

PRIOR = Fraction(2)
MEAN = Fraction(100_000)
histories = st.lists(st.tuples(st.integers(1, 500_000), st.integers(0, 900_000)), max_size=6)
levels = st.integers(5000, 9990).map(lambda n: Fraction(n, 10_000))


def test_without_evidence_the_plan_is_believed():
    belief = learn([], mean_stage=MEAN, prior_stages=PRIOR)

    assert (belief.rate, belief.kappa, belief.nu, belief.phi) == (1, 2, 4, Fraction(1, 10))
    assert expected_use(belief, planned=100_000, issued=30_000) == 70_000


def test_two_stages_at_half_as_much_again_move_the_rate_half_way():
    belief = learn([(100_000, 150_000), (100_000, 150_000)], mean_stage=MEAN, prior_stages=PRIOR)

    # Worked by hand: kappa = 2 + 2, rate = (2 + 3)/4, nu = 4 + 2,
    # phi = (0.4 + 2 x 0.25^2/1 + 2 x 0.25^2)/6.
    assert (belief.rate, belief.kappa, belief.nu) == (Fraction(5, 4), 4, 6)
    assert belief.phi == Fraction(65, 100) / 6


def test_what_was_handed_out_is_not_expected_again_and_an_overdrawn_stage_expects_nothing():
    belief = learn([(100_000, 150_000), (100_000, 150_000)], mean_stage=MEAN, prior_stages=PRIOR)

    assert expected_use(belief, planned=100_000, issued=100_000) == 25_000
    assert expected_use(belief, planned=100_000, issued=200_000) == 0


def test_a_stage_without_a_plan_teaches_nothing():
    assert learn([(0, 90_000)], mean_stage=MEAN, prior_stages=PRIOR) == learn([], mean_stage=MEAN, prior_stages=PRIOR)


@given(history=histories, expected=st.integers(0, 10**7), level=levels)
def test_cover_is_never_below_what_is_expected(history, expected, level):
    belief = learn(history, mean_stage=MEAN, prior_stages=PRIOR)

    assert covered_use(belief, expected=expected, level=level) >= expected


@given(history=histories, pool=st.integers(0, 10**7), more=st.integers(0, 10**6), level=levels)
def test_a_larger_pool_needs_no_less_cover(history, pool, more, level):
    belief = learn(history, mean_stage=MEAN, prior_stages=PRIOR)

    assert covered_use(belief, expected=pool + more, level=level) >= covered_use(belief, expected=pool, level=level)


@given(history=histories, one=st.integers(1, 10**6), other=st.integers(1, 10**6), level=levels)
def test_a_pool_is_covered_by_no_more_than_its_parts(history, one, other, level):
    belief = learn(history, mean_stage=MEAN, prior_stages=PRIOR)
    parts = covered_use(belief, expected=one, level=level) + covered_use(belief, expected=other, level=level)

    assert covered_use(belief, expected=one + other, level=level) <= parts


@given(history=histories, expected=st.integers(1, 10**6))
def test_the_middle_of_the_distribution_is_what_is_expected(history, expected):
    belief = learn(history, mean_stage=MEAN, prior_stages=PRIOR)

    assert covered_use(belief, expected=expected, level=Fraction(1, 2)) == expected


@pytest.mark.parametrize("scale", [1, 7, 10_000], ids=["as it is", "7 times", "in ten-thousandths"])
def test_the_unit_that_an_item_is_counted_in_makes_no_difference(scale):
    belief = learn([(12 * scale, 17 * scale)], mean_stage=Fraction(12 * scale), prior_stages=PRIOR)

    assert belief.rate == Fraction(2 + Fraction(17, 12)) / 3
    assert belief.phi == learn([(12, 17)], mean_stage=Fraction(12), prior_stages=PRIOR).phi


@pytest.mark.parametrize("level", [Fraction(49, 100), Fraction(9991, 10_000)])
def test_a_service_level_out_of_range_is_refused(level):
    belief = learn([], mean_stage=MEAN, prior_stages=PRIOR)

    with pytest.raises(ValueError, match=r"outside 0\.5 to 0\.999"):
        covered_use(belief, expected=1, level=level)


def test_a_weight_of_nothing_is_refused():
    with pytest.raises(ValueError, match="must be above 0"):
        learn([], mean_stage=MEAN, prior_stages=Fraction(0))

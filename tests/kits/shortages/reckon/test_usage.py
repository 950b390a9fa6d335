"""Use is learned from finished stages and covered at the site's service level."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.shortages.reckon.usage import PRIORS, Prior, covered_use, expected_use, far_off, learn

PRIOR = Prior(Fraction(1), rate_worth=Fraction(2), spread=Fraction(1, 2), spread_worth=4)
MEAN = Fraction(100_000)
histories = st.lists(st.tuples(st.integers(1, 500_000), st.integers(0, 900_000)), max_size=6)
levels = st.integers(5000, 9990).map(lambda n: Fraction(n, 10_000))


def test_without_evidence_the_plan_is_believed():
    belief = learn([], mean_stage=MEAN, prior=PRIOR)

    assert (belief.rate, belief.kappa, belief.nu, belief.phi) == (1, 2, 4, Fraction(1, 4))
    assert expected_use(belief, planned=100_000, issued=30_000) == 70_000


def test_two_stages_at_half_as_much_again_move_the_rate_half_way():
    belief = learn([(100_000, 150_000), (100_000, 150_000)], mean_stage=MEAN, prior=PRIOR)

    # Worked by hand: kappa = 2 + 2, rate = (2 + 3)/4, nu = 4 + 2,
    # phi = (4 x 0.25 + 2 x 0.25^2/1 + 2 x 0.25^2)/6.
    assert (belief.rate, belief.kappa, belief.nu) == (Fraction(5, 4), 4, 6)
    assert belief.phi == Fraction(125, 100) / 6


def test_what_was_handed_out_is_not_expected_again_and_an_overdrawn_stage_expects_nothing():
    belief = learn([(100_000, 150_000), (100_000, 150_000)], mean_stage=MEAN, prior=PRIOR)

    assert expected_use(belief, planned=100_000, issued=100_000) == 25_000
    assert expected_use(belief, planned=100_000, issued=200_000) == 0


def test_a_stage_without_a_plan_teaches_nothing():
    assert learn([(0, 90_000)], mean_stage=MEAN, prior=PRIOR) == learn([], mean_stage=MEAN, prior=PRIOR)


@given(history=histories, expected=st.integers(0, 10**7), level=levels)
def test_cover_is_never_below_what_is_expected(history, expected, level):
    belief = learn(history, mean_stage=MEAN, prior=PRIOR)

    assert covered_use(belief, expected=expected, level=level) >= expected


@given(history=histories, pool=st.integers(0, 10**7), more=st.integers(0, 10**6), level=levels)
def test_a_larger_pool_needs_no_less_cover(history, pool, more, level):
    belief = learn(history, mean_stage=MEAN, prior=PRIOR)

    assert covered_use(belief, expected=pool + more, level=level) >= covered_use(belief, expected=pool, level=level)


@given(history=histories, one=st.integers(1, 10**6), other=st.integers(1, 10**6), level=levels)
def test_a_pool_is_covered_by_no_more_than_its_parts(history, one, other, level):
    belief = learn(history, mean_stage=MEAN, prior=PRIOR)
    parts = covered_use(belief, expected=one, level=level) + covered_use(belief, expected=other, level=level)

    assert covered_use(belief, expected=one + other, level=level) <= parts


@given(history=histories, expected=st.integers(1, 10**6))
def test_the_middle_of_the_distribution_is_what_is_expected(history, expected):
    belief = learn(history, mean_stage=MEAN, prior=PRIOR)

    assert covered_use(belief, expected=expected, level=Fraction(1, 2)) == expected


@pytest.mark.parametrize("scale", [1, 7, 10_000], ids=["as it is", "7 times", "in ten-thousandths"])
def test_the_unit_that_an_item_is_counted_in_makes_no_difference(scale):
    belief = learn([(12 * scale, 17 * scale)], mean_stage=Fraction(12 * scale), prior=PRIOR)

    assert belief.rate == Fraction(2 + Fraction(17, 12)) / 3
    assert belief.phi == learn([(12, 17)], mean_stage=Fraction(12), prior=PRIOR).phi


@pytest.mark.parametrize("level", [Fraction(49, 100), Fraction(9991, 10_000)])
def test_a_service_level_out_of_range_is_refused(level):
    belief = learn([], mean_stage=MEAN, prior=PRIOR)

    with pytest.raises(ValueError, match=r"outside 0\.5 to 0\.999"):
        covered_use(belief, expected=1, level=level)


@pytest.mark.parametrize("part", ["rate", "rate_worth", "spread", "spread_worth"])
def test_a_prior_with_nothing_in_it_is_refused(part):
    with pytest.raises(ValueError, match="must be above 0"):
        replace(PRIOR, **{part: 0})


def test_a_mean_stage_of_nothing_is_refused():
    with pytest.raises(ValueError, match="must be above 0"):
        learn([], mean_stage=Fraction(0), prior=PRIOR)


def test_each_class_begins_with_a_belief_of_its_own():
    told = {name: (p.rate, p.rate_worth, p.phi, p.spread_worth) for name, p in PRIORS.items()}

    assert told == {
        "counted": (Fraction("1.03"), 2, Fraction("0.0025"), 4),
        "wiped": (Fraction("1.10"), Fraction("1.5"), Fraction("0.0225"), 4),
        "bead": (Fraction("1.20"), 1, Fraction("0.0625"), 4),
    }


def test_a_stage_far_from_the_others_is_told_apart_and_does_not_hide_itself():
    even = [(100_000, 104_000)] * 4

    assert far_off([*even, (100_000, 300_000)], mean_stage=MEAN, prior=PRIORS["counted"]) == (*[False] * 4, True)
    assert far_off([*even, (100_000, 10_000)], mean_stage=MEAN, prior=PRIORS["counted"]) == (*[False] * 4, True)
    assert far_off(even, mean_stage=MEAN, prior=PRIORS["counted"]) == (False,) * 4
    assert far_off([], mean_stage=MEAN, prior=PRIORS["bead"]) == ()


@pytest.mark.parametrize(("used", "far"), [(135_000, False), (137_000, True), (71_000, False), (69_000, True)])
def test_far_off_is_three_spreads_from_what_the_prior_lets_expect(used, far):
    # Worked by hand for one mean stage: 1.03 - and + 3 x 0.0909 x sqrt(1 + 1/2) = 0.334: from 0.696 to 1.364.
    wider = replace(PRIORS["counted"], spread=Fraction(909, 10_000))

    assert far_off([(100_000, used)], mean_stage=MEAN, prior=wider) == (far,)


@given(history=histories)
def test_far_off_goes_by_what_the_other_stages_teach(history):
    prior = PRIORS["wiped"]
    far = far_off(history, mean_stage=MEAN, prior=prior)
    for place, (planned, used) in enumerate(history):
        others = learn([*history[:place], *history[place + 1 :]], mean_stage=MEAN, prior=prior)
        ahead = Fraction(planned) / MEAN
        off = abs(Fraction(used) / MEAN - others.rate * ahead)
        spread_squared = others.phi * ahead * (1 + ahead / others.kappa)
        assert far[place] == (off**2 > 9 * spread_squared) or abs(float(off**2 / spread_squared) - 9) < 1e-6

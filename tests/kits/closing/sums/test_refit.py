"""A class's belief fitted again to the finished stages of a site."""

from fractions import Fraction

import pytest

from kits.closing.sums.refit import refit
from kits.shortages.reckon.usage import Prior

OLD = Prior(Fraction(11, 10), rate_worth=Fraction(3, 2), spread=Fraction(15, 100), spread_worth=5)


def stages(*used: str, plan: int = 1) -> list[tuple[Fraction, Fraction]]:
    return [(Fraction(plan), Fraction(each)) for each in used]


def test_three_items_worked_by_hand():
    # Rates 1.1, 1.4, 0.9: mean 3.4/3. Own variances 0.02, 0.02, 0: mean 0.04/3 = P. The rates vary by 0.19/3; less
    # P x 1/2 that is 0.17/3, so the rate is worth 0.04/0.17 stages. Spread: root of P x 2/4 = 0.08164 ...
    found = refit([stages("1", "1.2"), stages("1.3", "1.5"), stages("0.9", "0.9")], OLD)

    assert (found.items, found.stages) == (3, 6)
    assert found.prior == Prior(
        Fraction("1.1333"), rate_worth=Fraction("0.2353"), spread=Fraction("0.0816"), spread_worth=4
    )
    assert not (found.rate_worth_kept)
    assert not (found.spread_kept)


def test_stages_count_by_their_plan():
    # Rate 3/3 of the first although its stages used 2 and 0.5 of plan; its variance (1²/1 + 1²/2)/1 = 1.5.
    first = [(Fraction(1), Fraction(2)), (Fraction(2), Fraction(1))]
    found = refit([first, stages("1", "1"), stages("1", "1")], OLD)
    assert found.prior
    assert found.prior.rate == 1
    assert found.prior.spread == Fraction("0.5")  # root of 1.5/3 x 2/4


def test_a_rate_is_never_worth_more_stages_than_it_rests_on():
    # P = 0.08, the rates 1, 1.2 and 0.8 vary by 0.04: less P x 1/2 nothing is left; a little more, and P / V is huge.
    found = refit([stages("0.8", "1.2"), stages("1.0", "1.41"), stages("0.6", "1")], OLD)
    assert found.prior
    assert found.prior.rate_worth == found.stages == 6


def test_items_that_differ_by_no_more_than_chance_leave_the_worth_of_the_rate():
    found = refit([stages("0.8", "1.2"), stages("0.9", "1.1"), stages("0.8", "1.2")], OLD)
    assert found.prior
    assert found.prior.rate_worth == OLD.rate_worth
    assert found.rate_worth_kept


def test_stages_that_do_not_differ_leave_the_spread():
    found = refit([stages("1.2", "1.2"), stages("1", "1"), stages("1.1", "1.1")], OLD)
    assert found.prior
    assert (found.prior.rate, found.prior.spread) == (Fraction("1.1"), OLD.spread)
    assert found.spread_kept
    assert found.prior.spread_worth == OLD.spread_worth


def test_many_items_say_what_a_variance_is_worth():
    # Variances 0.02 and 0.06 in turn, 12 items: mean 0.04, varying by 0.0048/11. 4 + 2 x 0.0016 x 11/0.0048 = 11.33.
    items = [stages("0.9", "1.1") if n % 2 else stages("0.8268", "1.1732") for n in range(12)]
    found = refit(items, OLD)
    assert found.prior
    assert found.prior.spread_worth == 11
    assert float(found.prior.spread) == pytest.approx((0.04 * 9 / 11) ** 0.5, abs=2e-4)
    assert refit(items[:11], OLD).prior.spread_worth == 4


@pytest.mark.parametrize(
    "items",
    [
        pytest.param([], id="nothing finished"),
        pytest.param([stages("1", "2"), stages("1", "2"), stages("3")], id="the third has one stage"),
        pytest.param([stages("0", "0")] * 3, id="nothing used of any"),
    ],
)
def test_too_little_says_nothing(items):
    assert refit(items, OLD).prior is None

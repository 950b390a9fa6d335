"""What a scale says of a reel."""

from fractions import Fraction

import pytest

from reels.field.left_checks import checks_of, weights_for_lifting
from takeoff.units.exact import to_ticks
from tests.factories.reels import FT, ReelFactory
from tests.factories.takeoff import CableFactory

ALLOWANCE = Fraction(1, 100)


def reel(**fields):
    cable = CableFactory.build(weight=1500, weight_unit="lb/kft", site=None)
    return ReelFactory.build(site=None, cable=cable, feet=1000, **{"gross": 1700, "tare": 200, **fields})


def test_a_weight_that_agrees_with_the_tag():
    (check,) = checks_of(reel(), ALLOWANCE)
    # 1500 lb of cable at 1500 lb per 1000 ft are 1000 ft; 2 % of 1700 lb is 34 lb, 22.67 ft, and 1 % of the tag 10 ft.
    assert check.length == pytest.approx(to_ticks(1000 * FT), abs=2)
    assert check.accuracy == pytest.approx(to_ticks(FT) * (34 / 1.5 + 10), rel=1e-6)
    assert not check.apart


@pytest.mark.parametrize(("gross", "apart"), [(1749, False), (1751, True), (1652, False), (1651, True)])
def test_a_weight_contradicts_the_tag_only_beyond_both_accuracies(gross, apart):
    (check,) = checks_of(reel(gross=gross), ALLOWANCE)
    assert check.apart == apart


@pytest.mark.parametrize("missing", [{"gross": None}, {"tare": None}, {"gross": 100}])
def test_without_both_weights_nothing_is_said(missing):
    assert checks_of(reel(**missing), ALLOWANCE) == ()


def test_for_lifting_the_gross_weight_for_a_forklift_what_is_left_and_a_tenth():
    # 200 lb and 500 ft at 1.5 lb are 950 lb; with a tenth 1045.
    assert weights_for_lifting(reel(), to_ticks(500 * FT)) == ("1\u202f700 lb", "1\u202f045 lb")
    assert weights_for_lifting(reel(gross=None), 0)[0] == ""
    assert weights_for_lifting(reel(tare=None, gross=None), 0) == ("", ""), "the cable's own weight is no reel's"

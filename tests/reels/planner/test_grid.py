"""Lengths on the planning grid, and the usual rates of a site."""

from fractions import Fraction

import pytest

from reels.planner.grid import GRIDS, grid_of
from reels.planner.options import Options, usual_rates
from reels.planner.problem import INCH, MILLIMETRE, TENTH_FOOT, Rates, StockReel

FOOT = 3_048_000


@pytest.mark.parametrize("name", GRIDS)
def test_a_step_of_each_grid_is_the_unit_that_it_names(name):
    grid = GRIDS[name]
    assert grid.unit.label == name
    assert grid.unit.feet(1) == Fraction(grid.step, FOOT)


def test_needs_round_up_and_reels_down():
    grid = GRIDS["1 in"]
    assert [grid.up(254_000 * 2 + more) for more in (-1, 0, 1)] == [2, 2, 3]
    assert [grid.down(254_000 * 2 + more) for more in (-1, 0, 1)] == [1, 2, 2]
    assert grid.ticks(3) == 762_000


def test_a_site_that_says_nothing_has_the_grid_of_its_unit():
    assert [grid_of("", "ft").unit, grid_of("", "m").unit, grid_of("1 in", "m").unit] == [TENTH_FOOT, MILLIMETRE, INCH]


def test_the_usual_rates_are_round_in_the_unit_of_the_site():
    assert usual_rates("ft") == Rates() == Rates(Fraction(10), Fraction(2), Fraction(1, 5))
    told = [round(float(rate * Fraction("0.3048")), 4) for rate in (
        usual_rates("m").whole, usual_rates("m").remnant, usual_rates("m").setup,
    )]  # fmt: skip
    assert told == [3.0, 0.6, 0.06]
    assert Options() == Options(Rates(), strict=False, with_coming=False, seconds=10.0)


def test_a_tail_is_never_planned():
    assert [StockReel("R", 50, True, tail=tail).usable for tail in (0, 3, 50, 60)] == [50, 47, 0, 0]

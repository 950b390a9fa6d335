"""What cannot be planned is named, and what only just can is taken."""

from dataclasses import replace
from fractions import Fraction

import pytest

from reels.planner.problem import TENTH_FOOT, Assigned, Demand, Problem, ProblemError, Rates, StockReel, Unit
from reels.planner.valid import MOST_LENGTH, validate

GOOD = Problem(
    TENTH_FOOT,
    (StockReel("A", 100, True, tail=10, frozen=(("D", 3),)), StockReel("B", 0, False)),
    (Demand("D", 30, 3),),
    keep=1,
    buy_lengths=(1,),
    kept=(Assigned("A", "D", 1),),
)
A, D = GOOD.reels[0], GOOD.demands[0]


def test_the_smallest_figures_are_taken():
    validate(GOOD)
    validate(replace(GOOD, rates=Rates(Fraction(0), Fraction(0), Fraction(0))))
    validate(replace(GOOD, reels=(), kept=(), demands=(Demand("D", 1, 0),)))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"keep": 0}, "keep length must be above 0, got 0"),
        ({"unit": Unit("none", Fraction(0))}, "units per foot must be above 0, got 0"),
        ({"rates": Rates(remnant=Fraction(-1))}, "rates must not be negative"),
        ({"buy_lengths": (0, 5)}, "a length to buy must be above 0, got 0"),
        ({"reels": (A, StockReel("A", 5, True))}, "reel A occurs twice"),
        ({"reels": (A, StockReel("C", 5, True, tail=-1))}, "reel C: length and tail must not be negative"),
        ({"reels": (replace(A, frozen=(("X", 1),)),)}, "reel A: frozen pieces of unknown demand X"),
        ({"reels": (replace(A, frozen=(("D", 0),)),)}, "reel A: frozen pieces of D must be above 0, got 0"),
        ({"reels": (replace(A, tail=11),)}, "reel A: frozen pieces take 90 of 89 usable units"),
        ({"demands": (Demand("D", 30, 2),)}, "demand D: more pieces frozen than its count"),
        ({"demands": (D, Demand("E", 5, 1), Demand("E", 6, 1))}, "demand E occurs twice"),
        ({"demands": (D, Demand("E", 0, 1))}, "demand E: length must be above 0, got 0"),
        ({"demands": (D, Demand("E", 5, -1))}, "demand E: count must not be negative, got -1"),
        ({"demands": (D, Demand("E", 5, 1, weight=0))}, "demand E: weight must be above 0, got 0"),
        ({"kept": (Assigned("A", "D", 0),)}, "kept pieces of D on A must be above 0"),
    ],
)
def test_each_contradiction_is_named_alone(change, said):
    with pytest.raises(ProblemError) as error:
        validate(replace(GOOD, **change))
    assert error.value.problems == [said]


def test_lengths_are_taken_up_to_what_can_be_counted():
    validate(replace(GOOD, reels=(replace(A, length=MOST_LENGTH),), keep=MOST_LENGTH, buy_lengths=(MOST_LENGTH,)))
    for change in ({"reels": (A, StockReel("C", 0, True, tail=MOST_LENGTH + 1))}, {"keep": MOST_LENGTH + 1}):
        with pytest.raises(ProblemError, match=f"must be at most {MOST_LENGTH} units, got {MOST_LENGTH + 1}"):
            validate(replace(GOOD, **change))
    demand = Demand("E", MOST_LENGTH, 2)
    validate(replace(GOOD, reels=(), kept=(), demands=(demand,)))
    with pytest.raises(ProblemError, match="all lengths needed must be at most"):
        validate(replace(GOOD, reels=(), kept=(), demands=(demand, Demand("F", 1, 1))))

"""The first plans of a search."""

from reels.planner.core import build_core
from reels.planner.moves.first_plans import restricted_plans
from reels.planner.problem import TENTH_FOOT, Demand, Problem, StockReel
from tests.reels.planner.moves.test_greedy import CORE


class Heard:
    """Hears what is offered in place of the search."""

    def __init__(self):
        self.offered = []

    def offer(self, core, pieces, way):
        self.offered.append((pieces.sum(axis=0).tolist(), way))


def test_plans_on_few_whole_reels_are_offered_until_time_is_over():
    heard, stopped = Heard(), Heard()
    restricted_plans(CORE, heard, lambda: False)
    restricted_plans(CORE, stopped, lambda: True)
    assert {way for _, way in heard.offered} == {"re-split"}
    assert [3, 2, 1] in [cut for cut, _ in heard.offered], "a plan that cuts everything"
    assert stopped.offered == []


def test_nothing_more_is_tried_once_everything_is_cut_without_scrap():
    # Both pieces of 30 fill A; B stays whole.
    reels = StockReel("A", 60, False), StockReel("B", 100, True)
    filled = build_core(Problem(TENTH_FOOT, reels, (Demand("D", 30, 2),), keep=20))
    heard = Heard()
    restricted_plans(filled, heard, lambda: False)
    assert heard.offered == [([2], "re-split")]

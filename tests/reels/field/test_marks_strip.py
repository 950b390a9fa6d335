"""A reel drawn to scale in its own marks."""

from reels.field.marks_strip import Stretch, draw_stretches, scale_in_marks, without
from reels.ledger.marks.printed import Interval
from reels.plans.pages.strips import LEFT, RIGHT
from takeoff.units.exact import SCALE


def marks(number: float) -> int:
    return round(number * SCALE)


def test_ticks_stand_at_round_printed_marks_whichever_way_they_count():
    climbing = scale_in_marks(marks(1250), marks(2250))
    assert [tick.at // SCALE for tick in climbing.ticks] == [1400, 1600, 1800, 2000, 2200]
    falling = scale_in_marks(marks(3740), marks(2740))
    assert [tick.at // SCALE for tick in falling.ticks] == [2800, 3000, 3200, 3400, 3600]
    assert [tick.x for tick in falling.ticks] == sorted((tick.x for tick in falling.ticks), reverse=True)
    assert climbing.x(0) == LEFT
    assert climbing.x(marks(1000)) == RIGHT


def test_stretches_lie_where_their_marks_are_and_the_last_lies_on_top():
    scale = scale_in_marks(0, marks(1000))
    stretches = [
        Stretch("cut", Interval(0, marks(500)), "CB-03 A1"),
        Stretch("remnant", Interval(marks(500), marks(500))),
        Stretch("disputed", Interval(marks(250), marks(500))),
    ]
    drawn = draw_stretches(stretches, scale)
    assert [band.kind for band in drawn] == ["cut", "disputed"], "what holds nothing is not drawn"
    assert (drawn[0].x, drawn[0].width) == (LEFT, round((RIGHT - LEFT) / 2, 3))
    assert drawn[1].x == round(LEFT + (RIGHT - LEFT) / 4, 3)
    assert drawn[0].label == "CB-03 A1"


def test_a_label_stands_only_where_there_is_room():
    scale = scale_in_marks(0, marks(1000))
    (band,) = draw_stretches([Stretch("cut", Interval(0, marks(1)), "CB-03 A1")], scale)
    assert band.label == ""


def test_what_is_left_beside_others():
    whole = Interval(10, 100)
    assert without(whole, [Interval(0, 20), Interval(40, 50)]) == [Interval(20, 40), Interval(50, 100)]
    assert without(whole, []) == [whole]
    assert without(whole, [Interval(0, 200)]) == []
    assert without(whole, [Interval(150, 200)]) == [whole]

"""Where to cut: by tape until the reel has a factor, and for the first of every set off it; then at a mark."""

import pytest

from reels.field.where_to_cut import where_to_cut
from reels.ledger.queries import reel_entries
from takeoff.units.exact import to_ticks
from tests.factories.reels import FT, ReelFactory
from tests.reels.makers import cut, make_conductors

pytestmark = pytest.mark.django_db


def told(site, conductor, need="187.5", tag="R-101"):
    entry = next(each for each in reel_entries(site) if each.reel.tag == tag)
    return where_to_cut(site, entry, conductor, round(to_ticks(FT) * float(need)))


def test_the_first_cut_of_a_reel_is_by_tape_with_a_mark_for_who_has_none(site, reel, conductors):
    how = told(site, conductors[0])
    assert (how.by_tape, how.begins, how.at) == (True, "1250 ft", "1439 ft + 5 in")


def test_once_the_reel_has_a_factor_the_next_of_the_set_is_at_a_mark(site, reel, conductors):
    cut(reel, 1250, "1438.9", taped="187.5", conductor=conductors[0])
    how = told(site, conductors[1])
    assert (how.by_tape, how.at) == (False, "1627 ft + 10 in")


def test_the_first_of_another_set_off_the_reel_is_by_tape_again(site, reel, conductors):
    cut(reel, 1250, "1438.9", taped="187.5", conductor=conductors[0])
    (other,) = make_conductors(conductors[0].run, 100, "B1")
    assert told(site, other, "100").by_tape


def test_a_length_is_told_as_it_is_taped_never_shorter(site, reel, conductors):
    assert told(site, conductors[0], "187.51").length == to_ticks(FT) * 187 + to_ticks(FT) * 7 // 12


def test_what_the_marks_left_do_not_hold_has_no_mark(site, reel, conductors):
    assert told(site, conductors[0], "1000").at == ""


def test_a_reel_without_marks_is_always_taped(site, cable, conductors):
    ReelFactory(site=site, cable=cable, tag="BARE", feet=500)
    how = told(site, conductors[0], tag="BARE")
    assert (how.by_tape, how.begins, how.at) == (True, "", "")

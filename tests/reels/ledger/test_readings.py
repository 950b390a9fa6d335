"""What is read off reels in use: it moves their ends without inventing a cut."""

import pytest

from reels.ledger.marks.content import CutError
from reels.ledger.queries import reel_entries
from reels.ledger.services import books_of, take_off_remnant
from reels.models import Reading
from takeoff.records.answers import question_of
from takeoff.records.decoding import Sent
from takeoff.records.services import keep_one, take
from takeoff.records.terms.errors import AskFirstError
from takeoff.units.exact import to_ticks
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import SiteFactory, UserFactory
from tests.reels.makers import FT, at, cut

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory(whole_reels=True)


@pytest.fixture
def reel(site):
    return ReelFactory(site=site, tag="R1", outer_mark=1000, inner_mark=2000)


def feet(number):
    return to_ticks(FT * number)


def read(reel, what, *, id_="r", confirmed=True, when=None, **figure):
    """Record a reading and return what there is to look at."""
    row = {"id": id_, "reel": reel, "at": when or at(4), "what": what, **figure}
    try:
        keep_one(site=reel.site, kind="readings", row=row)
    except AskFirstError as asked:
        if not confirmed:
            raise
        keep_one(site=reel.site, kind="readings", row=row, confirmed=question_of(asked.said))
        return asked.said
    return ()


def test_a_mark_showing_moves_the_outer_end_without_a_cut(site, reel):
    cut(reel, 1000, 1200)
    assert read(reel, "mark showing", mark=1250) == ()
    books = books_of(site, reel)
    assert (books.left, books.unlogged_marks, len(books.lengths)) == (feet(750), to_ticks(50), 1)


def test_a_mark_showing_outside_the_innermost_cut_is_asked_about(site, reel):
    cut(reel, 1000, 1200, event_id="C-1")
    said = ("C-1 lies 50' 0\" beyond mark 1150: one of the two is misread.",)
    with pytest.raises(AskFirstError) as asked:
        read(reel, "mark showing", mark=1150, confirmed=False)
    assert asked.value.said == said
    assert Reading.objects.of(site).count() == 0
    assert read(reel, "mark showing", mark=1150) == said
    assert books_of(site, reel).left == feet(800)


def test_where_the_cable_ended_says_what_the_reel_lacked_and_rules_what_is_left(site, reel):
    cut(reel, 1000, 1200)
    said = read(reel, "the end came at", mark=1990)
    assert said == ("Reel R1 held 10' 0\" less than its tag says: tell the supplier.",)
    [entry] = reel_entries(site)
    assert (entry.left, entry.marks.held) == (feet(790), to_ticks(990))
    piece = take_off_remnant(site=site, reel=reel, tag="R1-A")
    assert (piece.outer_mark, piece.inner_mark, piece.length) == (1200, 1990, 790 * FT)


def test_a_reel_that_held_more_than_its_tag_says_can_be_cut_there(site, reel):
    with pytest.raises(CutError, match="cannot be on reel R1"):
        cut(reel, 1900, 2005)
    assert read(reel, "the end came at", mark=2010) == (
        "Reel R1 held 10' 0\" more than its tag says: tell the supplier.",
    )
    assert cut(reel, 1000, 2005).cut.length == 1005 * FT
    assert books_of(site, reel).left == feet(5)


@pytest.mark.parametrize("first", ["cut", "end"])
def test_a_cut_beyond_where_the_cable_ended_is_in_doubt_whichever_came_first(site, reel, first):
    acts = [lambda: cut(reel, 1000, 1500, event_id="C-1"), lambda: read(reel, "the end came at", mark=1400)]
    for act in acts if first == "cut" else reversed(acts):
        act()
    books = books_of(site, reel)
    assert [(each.reading, each.claim) for each in books.contradicted] == [("", "C-1")]
    assert (books.left, books.overdrawn) == (0, 0)


def test_a_reading_that_is_taken_back_moves_nothing(site, reel):
    read(reel, "the end came at", mark=1990)
    read(reel, "mark showing", mark=1100, id_="s")
    for name in ("r", "s"):
        row = {"id": f"back {name}", "reverses": name, "at": at(5), "reason": "misread"}
        keep_one(site=site, kind="reversals", row=row)
    assert books_of(site, reel).left == feet(1000)
    with pytest.raises(CutError, match="r was taken back before"):
        keep_one(site=site, kind="reversals", row={"id": "x", "reverses": "r", "at": at(5), "reason": "misread"})


def test_the_last_reading_of_an_end_counts(site, reel):
    read(reel, "the end came at", mark=1980, id_="late", when=at(6))
    read(reel, "the end came at", mark=1990, id_="early", when=at(5))
    assert books_of(site, reel).left == feet(980)


@pytest.mark.parametrize(
    ("what", "figure", "value", "unit"),
    [("weight", {"weight": "820 lb"}, 820, "lb"), ("turns", {"turns": 31}, 31, "")],
)
def test_other_readings_keep_their_figure_and_move_nothing(site, reel, what, figure, value, unit):
    assert read(reel, what, **figure) == ()
    kept = Reading.objects.of(site).get()
    assert (kept.what, kept.value, kept.unit) == (what, value, unit)
    assert books_of(site, reel).left == feet(1000)


@pytest.mark.parametrize(
    ("what", "figure", "column"),
    [
        ("mark showing", {}, "mark"),
        ("mark showing", {"mark": 1100, "turns": 3}, "turns"),
        ("weight", {"mark": 1100, "weight": "8 lb"}, "mark"),
        ("mark showing", {"mark": 2001}, "mark"),
        ("the end came at", {"mark": 1000}, "mark"),
    ],
)
def test_a_reading_that_cannot_be_is_refused_at_its_column(reel, what, figure, column):
    with pytest.raises(CutError) as refused:
        read(reel, what, **figure)
    assert refused.value.column == column


def test_from_a_queue_a_mark_that_cannot_be_waits_and_many_take_a_fixed_number_of_queries(
    site, reel, django_assert_max_num_queries
):
    rows = [
        {"id": f"r{n}", "reel": "R1", "at": at(4).isoformat(), "what": "mark showing", "mark": 1000 + n}
        for n in range(50)
    ]
    rows.append({**rows[0], "id": "off", "mark": 3000})
    with django_assert_max_num_queries(34):
        answers = take(
            site=site,
            sender=UserFactory(),
            roles=frozenset({"foreman"}),
            sent=[Sent("readings", row, None, ()) for row in rows],
        )
    assert [answer.answer for answer in answers] == ["kept"] * 50 + ["aside"]

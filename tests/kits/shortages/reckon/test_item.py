"""A line says what is short, by when, and what to order."""

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from kits.shortages.reckon.item import ItemBooks, OrderedLine, PackedLine, StageBook, Terms, reckon
from kits.shortages.reckon.lines import ShortItem
from kits.shortages.reckon.projection import LotStock
from kits.shortages.reckon.usage import PRIORS
from kits.shortages.reckon.working_days import LeadTime, WorkingDays
from tests.kits.shortages.reckon.strategies import AS_OF, item_books, priors, terms

TERMS = Terms(as_of=AS_OF)
LUG = ShortItem(id=1, code="LUG", pack=25, lead=LeadTime(14))
SEALANT = ShortItem(id=2, code="SEALANT", pack=120_000, prior=PRIORS["bead"])


def day(number):
    return AS_OF + timedelta(days=number)


def found(item, stages, stock, **more):
    """Books of an item whose stock was found at an opening count."""
    handed_out = sum(stage.issued for stage in stages)
    return ItemBooks(item=item, stages=stages, lots=(LotStock(stock),), lost=-stock - handed_out, **more)


def test_a_line_says_what_is_short_by_when_to_order_and_how_many():
    stages = (
        StageBook(1, "CB-1", "terminations", planned=day(30), takeoff=40, drawn=40),
        StageBook(2, "CB-2", "terminations", planned=day(60), takeoff=40, drawn=40),
    )
    line = reckon(found(LUG, stages, 50), TERMS)

    assert (line.short, line.short_on, line.order_by, line.order) == (30, day(60), day(43), 50)
    assert line.runs == ("CB-1", "CB-2")
    assert line.main_cause == "kit_list"


def test_an_undated_need_makes_an_item_short_on_no_day():
    stages = (
        StageBook(1, "CB-1", "terminations", takeoff=40, drawn=40),
        StageBook(2, "CB-2", "terminations", planned=day(60), takeoff=40, drawn=40),
    )
    line = reckon(found(LUG, stages, 50), TERMS)

    assert (line.short, line.short_on, line.order_by, line.order) == (30, None, None, 50)


def test_an_overdue_need_is_short_today():
    line = reckon(found(LUG, (StageBook(1, "CB-1", "cables", planned=day(-9), takeoff=4, drawn=4),), 0), TERMS)

    # 17 days before Monday 4 May is Friday 17 April; ordered today it comes 14 days after it is missing.
    assert (line.short_on, line.order_by, line.comes_on) == (AS_OF, day(-17), day(14))


def test_when_only_the_dates_make_it_short_they_are_the_cause():
    stages = (StageBook(1, "CB-1", "cables", planned=day(5), takeoff=10, drawn=10),)
    # Ordered after a kit list that lacks all of it: what is short is the date, not the list.
    orders = (OrderedLine("O-1", 12, expected=day(8)),)
    line = reckon(ItemBooks(item=LUG, stages=stages, orders=orders), TERMS)

    assert (line.short, line.timing, line.causes["kit_list"]) == (10, 10, 10)
    assert line.parts == {"timing": 10}
    assert line.main_cause == "timing"


def test_a_late_delivery_is_timing_and_marked():
    stages = (StageBook(1, "CB-1", "cables", planned=day(5), takeoff=10, drawn=10),)
    line = reckon(
        ItemBooks(item=LUG, stages=stages, promised=10, packing=(PackedLine("S-1", 10, expected=day(8)),)), TERMS
    )
    overdue = reckon(
        ItemBooks(item=LUG, stages=stages, promised=10, packing=(PackedLine("S-1", 10, expected=day(-1)),)), TERMS
    )

    assert (line.gap, line.timing, line.short, line.short_on, line.late) == (0, 10, 10, day(5), False)
    assert (overdue.timing, overdue.short, overdue.late) == (0, 0, True)


def needing(quantity, on, *, item=LUG, **more):
    stages = (StageBook(1, "CB-1", "cables", planned=on, takeoff=quantity, drawn=quantity),)
    return ItemBooks(item=item, stages=stages, **more)


def test_what_is_on_the_way_too_late_is_expedited_and_the_rest_ordered():
    """Need 10 on day 5, 4 arrive on day 20: short 10, order 6, expedite 4 (worked by hand)."""
    item = ShortItem(id=1, code="LUG", pack=1, lead=LeadTime(2))
    line = reckon(needing(10, day(5), item=item, orders=(OrderedLine("O-1", 4, expected=day(20)),)), TERMS)

    assert (line.short, line.order, line.expedite) == (10, 6, 4)
    assert [(one.name, one.since, one.days) for one in line.too_late] == [("O-1", day(5), 15)]
    assert (line.short_on, line.out_on, line.need_by) == (day(5), day(5), day(2))


def test_a_sent_order_without_a_day_counts_on_its_provisional_day():
    orders = (OrderedLine("O-1", 10, sent=day(-2), lead=LeadTime(14)),)
    line = reckon(needing(10, day(12), orders=orders), TERMS)

    assert [(one.on, one.provisional, one.no_answer) for one in line.deliveries] == [(day(12), True, False)]
    assert (line.short, line.order, line.expedite) == (0, 0, 0)


def test_an_order_whose_provisional_day_has_passed_has_no_answer_and_is_not_ordered_again():
    for order in (OrderedLine("O-1", 10, sent=day(-15), lead=LeadTime(14)), OrderedLine("O-1", 10, sent=day(-15))):
        line = reckon(needing(10, day(12), orders=(order,)), TERMS)

        assert [(one.on, one.no_answer, one.sent) for one in line.deliveries] == [(None, True, day(-15))]
        assert (line.short, line.order, line.expedite) == (10, 0, 10)
        assert line.too_late[0].no_answer


def test_a_provisional_day_counts_while_it_is_today():
    orders = (OrderedLine("O-1", 10, sent=day(-14), lead=LeadTime(14)),)

    assert reckon(needing(10, day(12), orders=orders), TERMS).expedite == 0


def test_what_only_the_service_level_asks_for_is_spare_and_has_no_day():
    plan = 100_000
    stages = (StageBook(3, "CB-3", "seals", planned=day(10), takeoff=plan, drawn=plan),)
    line = reckon(found(SEALANT, stages, plan * 2), TERMS)
    expected = reckon(found(SEALANT, stages, line.need_expected), TERMS)

    assert expected.spare_only
    assert expected.spare == expected.order > 0
    assert (expected.out_on, expected.order_by, expected.short_on) == (None, None, None)


def test_a_lead_time_that_nobody_gave_is_not_known():
    line = reckon(needing(10, day(5), item=ShortItem(id=1, code="LUG")), TERMS)

    assert (line.order_by, line.comes_on, line.out_on) == (None, None, day(5))


def test_working_days_leave_out_weekends_and_holidays():
    """It is missing on Thursday 14 May: less 3 days Monday 11, 5 working days before it Monday 4, or the Friday."""
    item = ShortItem(id=1, code="LUG", pack=1, lead=LeadTime(5, working=True))
    days = WorkingDays((day(3),))

    assert reckon(needing(1, day(10), item=item), TERMS).order_by == day(0)
    assert reckon(needing(1, day(10), item=item), Terms(as_of=AS_OF, working_days=days)).order_by == day(-3)


def test_what_was_ordered_is_not_ordered_again():
    stages = (StageBook(1, "CB-1", "cables", planned=day(50), takeoff=100, drawn=100),)
    first = reckon(found(LUG, stages, 30), TERMS)
    again = reckon(found(LUG, stages, 30, orders=(OrderedLine("O-1", first.order, expected=day(20)),)), TERMS)

    assert (first.short, first.order) == (70, 75)
    assert (again.short, again.order) == (0, 0)


def test_learned_use_raises_what_open_stages_need():
    plan = 100_000
    stages = (
        StageBook(1, "CB-1", "seals", planned=day(-20), done=True, takeoff=plan, drawn=plan, issued=150_000),
        StageBook(2, "CB-2", "seals", planned=day(-10), done=True, takeoff=plan, drawn=plan, issued=150_000),
        StageBook(3, "CB-3", "seals", planned=day(10), takeoff=plan, drawn=plan),
        StageBook(3, "CB-3", "covers", planned=day(20), issued=7_000),
    )
    line = reckon(found(SEALANT, stages, 0), TERMS)

    # Worked by hand: kappa = 1 + 2, rate = (1.2 + 3)/3 = 1.4, nu = 4 + 2,
    # phi = (4 x 0.0625 + 2 x 0.1^2 + 1 x 0.2^2)/6 = 0.31/6; D* = 1, scale = sqrt(phi x 4/3) = 0.262467;
    # t(95 %, 6) = 1.9432 (printed in every table of Student's t): 1.4 + 0.51002 mean stages of 10.
    assert (line.need, line.need_expected) == (100_000, 140_000)
    assert abs(line.need_covered - 191_002) <= 5
    assert line.learned == line.need_covered - 100_000
    assert [(e.run, e.planned, e.used) for e in line.usage.evidence] == [
        ("CB-1", plan, 150_000),
        ("CB-2", plan, 150_000),
    ]
    assert line.usage.unplanned == (), "the stage is not finished"
    assert [(e.stage, e.used) for e in line.usage.handed_out] == [("covers", 7_000)]
    assert (line.use, line.reserve) == (40_000, line.need_covered - 140_000)
    assert line.use + line.reserve == line.learned
    assert line.used == 300_000


def test_a_stage_done_with_nothing_handed_out_is_asked_about_and_teaches_nothing():
    plan = 100_000
    stages = (
        StageBook(1, "CB-1", "seals", planned=day(30), done=True, takeoff=plan, drawn=plan, done_on=day(-3)),
        StageBook(2, "CB-2", "seals", planned=day(10), takeoff=plan, drawn=plan),
    )
    line = reckon(found(SEALANT, stages, 0), TERMS)
    alone = reckon(found(SEALANT, stages[1:], 0), TERMS)

    asked, ahead = line.needs
    assert (asked.asked, asked.planned, asked.due, asked.need, asked.expected) == (True, day(-3), AS_OF, plan, plan)
    assert not ahead.asked
    assert line.usage.evidence == ()
    assert line.need_covered == alone.need_covered + plan, "what it may have used is no use that is ahead"
    assert line.short_on == AS_OF
    answered = reckon(found(SEALANT, (replace(stages[0], unused=True), stages[1]), 0), TERMS)
    assert (answered.need_covered, answered.usage.evidence) == (alone.need_covered, ())


def test_fixed_items_need_exactly_their_takeoff():
    stages = (
        StageBook(1, "CB-1", "seals", done=True, takeoff=10, drawn=10, issued=30),
        StageBook(2, "CB-2", "seals", planned=day(1), takeoff=10, drawn=10),
    )
    line = reckon(found(LUG, stages, 0), TERMS)

    assert line.need == line.need_expected == line.need_covered == 10
    assert line.usage is None


@settings(max_examples=300)
@given(books=item_books(prior=priors), terms=terms)
def test_covered_needs_of_all_days_add_up_to_the_cover_of_the_pool(books, terms):
    line = reckon(books, terms)

    assert sum(step.needed for step in line.steps) == line.need_covered >= line.need_expected
    assert line.need_expected == sum(need.expected for need in line.needs)


@given(books=item_books(), terms=terms)
def test_what_is_ordered_leaves_nothing_to_order(books, terms):
    line = reckon(books, terms)
    ordered = (*books.orders, OrderedLine("O-9", line.order, expected=AS_OF))
    again = reckon(ItemBooks(**{**{f: getattr(books, f) for f in books.__slots__}, "orders": ordered}), terms)

    assert again.order == 0
    assert again.short <= again.expedite
    assert again.causes["ordered_since"] == line.causes["ordered_since"] - line.order


@given(books=item_books(), low=st.integers(5000, 9000))
def test_a_higher_service_level_never_needs_less(books, low):
    levels = (Fraction(low, 10_000), Fraction(low + 990, 10_000))
    covers = [reckon(books, Terms(as_of=AS_OF, level=level)).need_covered for level in levels]

    assert covers[0] <= covers[1]


def test_the_least_order_of_what_is_made_for_runs_is_of_all_runs_together():
    stages = tuple(
        StageBook(run, f"CB-{run}", "seals", planned=AS_OF + timedelta(10 * run), takeoff=10_000) for run in (1, 2)
    )
    item = ShortItem(id=1, code="PLATE", for_run=True, min_order=50_000)
    line = reckon(ItemBooks(item=item, stages=stages), Terms(as_of=AS_OF))
    assert [(walk.runs, walk.order) for walk in line.walks] == [(("CB-1",), 40_000), (("CB-2",), 10_000)]
    assert line.order == 50_000


def test_an_expired_piece_that_fits_two_runs_does_not_join_them():
    stages = tuple(StageBook(run, f"CB-{run}", "seals", planned=AS_OF, takeoff=10_000) for run in (1, 2))
    lots = (
        LotStock(10_000, AS_OF - timedelta(1), frozenset([1, 2])),
        LotStock(20_000, None, frozenset([1])),
    )
    item = ShortItem(id=1, code="PLATE", for_run=True)
    line = reckon(ItemBooks(item=item, stages=stages, lots=lots, lost=-30_000), Terms(as_of=AS_OF))
    assert [(walk.runs, walk.short) for walk in line.walks] == [(("CB-1",), 0), (("CB-2",), 10_000)]
    assert (line.short, line.other_runs) == (10_000, 10_000)


def test_the_first_of_the_runs_says_by_when_to_order_what_is_made_for_them():
    stages = tuple(StageBook(run, f"CB-{run}", "seals", planned=day(10 * run), takeoff=10_000) for run in (2, 1))
    item = ShortItem(id=1, code="PLATE", for_run=True, lead=LeadTime(2))
    line = reckon(ItemBooks(item=item, stages=stages), TERMS)

    assert (line.short_on, line.out_on, line.need_by, line.order_by) == (day(10), day(10), day(7), day(4)), "a Friday"


def test_what_fits_one_run_of_a_group_serves_that_group():
    """A piece fits CB-1 and CB-2; what fits CB-1 alone is theirs as well: here, on the way, on order."""
    stages = tuple(StageBook(run, f"CB-{run}", "seals", planned=day(10), takeoff=30_000) for run in (1, 2))
    both, one, other = frozenset([1, 2]), frozenset([1]), frozenset([3])
    books = ItemBooks(
        item=ShortItem(id=1, code="PLATE", for_run=True),
        stages=stages,
        lots=(LotStock(10_000, None, both), LotStock(10_000, None, one), LotStock(70_000, None, other)),
        packing=tuple(PackedLine("S-1", 10_000, expected=day(1), fits=fits) for fits in (one, other)),
        orders=tuple(OrderedLine("O-1", 10_000, expected=day(1), fits=fits) for fits in (one, other)),
        lost=-90_000,
    )
    (walk,) = reckon(books, TERMS).walks

    assert (walk.runs, walk.need, walk.usable, walk.inbound) == (("CB-1", "CB-2"), 60_000, 20_000, 20_000)
    assert (walk.short, walk.order) == (20_000, 20_000)


def test_a_run_that_needs_nothing_more_is_not_among_those_that_wait():
    stages = (
        StageBook(1, "CB-1", "seals", planned=day(1), takeoff=10_000, issued=10_000),
        StageBook(2, "CB-2", "seals", planned=day(2), takeoff=10_000),
    )
    assert reckon(found(LUG, stages, 0), TERMS).runs == ("CB-2",)


def test_the_cover_of_two_days_is_that_of_both_taken_together():
    def cover(*days):
        stages = tuple(
            StageBook(run, f"CB-{run}", "seals", planned=on, takeoff=100_000, drawn=100_000)
            for run, on in enumerate(days, start=1)
        )
        return reckon(found(SEALANT, stages, 0), TERMS)

    together, apart = cover(day(1), day(1)), cover(day(1), day(9))
    (first,) = [step.needed for step in cover(day(1)).steps if step.day == day(1)]

    assert apart.need_covered == together.need_covered > together.need_expected
    assert [step.needed for step in apart.steps if step.needed] == [first, together.need_covered - first]


def test_stages_that_share_counts_of_a_gang_box_teach_together_once_all_of_them_are_done():
    def stage(run, *, done, issued, counts=()):
        return StageBook(run, f"CB-{run}", "seals", done=done, takeoff=10, issued=issued, counts=frozenset(counts))

    alone = stage(1, done=True, issued=14)
    first, between, last = (
        stage(2, done=True, issued=9, counts=[1]),
        stage(3, done=True, issued=12, counts=[1, 2]),
        None,
    )
    for finished in (False, True):
        last = stage(4, done=finished, issued=12, counts=[2])
        line = reckon(found(SEALANT, (alone, first, last, between), 500), TERMS)
        evidence = [(one.run, one.stage, one.planned, one.used) for one in line.usage.evidence]
        together = [("CB-2, CB-4, CB-3", "seals", 30, 33)] if finished else []
        assert evidence == [("CB-1", "seals", 10, 14), *together]
    prior = PRIORS["bead"]
    assert line.usage.kappa == prior.rate_worth + 4
    assert line.usage.nu == prior.spread_worth + 2

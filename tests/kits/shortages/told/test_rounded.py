"""What people read is rounded, and still adds up."""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kits.shortages.reckon import causes
from kits.shortages.reckon.item import ItemBooks, StageBook, Terms, reckon
from kits.shortages.reckon.lines import Evidence, LearnedUsage, ShortItem, Substitute, TooLate
from kits.shortages.reckon.projection import LotStock
from kits.shortages.told.rounded import rounded_line, share_out, step_of
from tests.kits.shortages.reckon.strategies import AS_OF, item_books, terms

TERMS = Terms(as_of=AS_OF)
steps = st.sampled_from([100, 1_000, 10_000])
amounts = st.lists(st.integers(-(10**9), 10**9), max_size=12)


@given(parts=amounts, step=steps, up=st.booleans())
def test_shares_add_up_and_none_is_a_step_off(parts, step, up):
    exact = sum(parts)
    total = (exact + (step - 1) * up) // step * step

    shares = share_out(parts, total, step)

    assert sum(shares) == total
    for part, share in zip(parts, shares, strict=True):
        assert share % step == 0
        assert abs(part - share) < step
        assert share == part or part % step, "what is whole stays"


def test_the_largest_remainders_are_raised():
    assert share_out([14_000, 23_000, 35_000], 72_000 // 10_000 * 10_000, 10_000) == (10_000, 20_000, 40_000)
    assert share_out([], 0, 100) == ()
    with pytest.raises(ValueError, match="30000 is not 15000 rounded to 10000"):
        share_out([15_000], 30_000, 10_000)


units = st.sampled_from(["each", "cartridge", "kg"])


@settings(max_examples=400)
@given(books=item_books(), terms=terms, unit=units)
def test_a_line_that_people_read_adds_up_like_the_exact_one(books, terms, unit):
    exact = reckon(replace(books, item=replace(books.item, unit=unit)), terms)
    shown, step = rounded_line(exact), step_of(exact)

    causes.check(shown)
    assert exact.short <= shown.short < exact.short + step
    assert shown.order == exact.order
    assert sum(shown.parts.values()) == shown.short or shown.gap + shown.learned <= 0
    assert sum(one.need for one in shown.needs) == shown.need
    assert sum(one.quantity for one in shown.deliveries) == shown.inbound
    assert all(one.need == one.takeoff - one.issued for one in shown.needs if one.need)
    assert max([0, *(-one.balance for one in shown.steps)]) == shown.short
    for before, after in pairwise(shown.steps):
        assert after.balance == before.balance + after.delivered - after.needed - after.expired
    figures = [shown.need, shown.need_expected, shown.need_covered, shown.usable, shown.inbound, shown.short]
    figures += [shown.gap, shown.timing, *shown.causes.values()]
    assert all(figure % step == 0 for figure in figures)
    for name in ("need", "need_expected", "need_covered", "usable", "inbound", "gap", "use", "reserve"):
        assert abs(getattr(shown, name) - getattr(exact, name)) < 3 * step


def test_what_is_whole_is_shown_as_it_is():
    stages = (StageBook(1, "CB-1", "seals", planned=AS_OF, takeoff=500_000, drawn=480_000, issued=20_000),)
    lots = (LotStock(30_000),)
    line = reckon(ItemBooks(ShortItem(1, "X"), stages=stages, lots=lots, lost=-50_000, promised=410_000), TERMS)

    assert rounded_line(line) == line


def test_pieces_and_packages_are_whole_and_measures_have_two_decimals_at_most():
    stages = (StageBook(1, "CB-1", "seals", planned=AS_OF, takeoff=51_234, drawn=51_234),)
    books = ItemBooks(ShortItem(1, "X", unit="kg"), stages=stages, lots=(LotStock(1_233),), lost=-1_233)
    measured = rounded_line(reckon(books, TERMS))
    pieces = rounded_line(reckon(replace(books, item=replace(books.item, unit="each")), TERMS))
    packages = rounded_line(reckon(replace(books, item=replace(books.item, unit="cartridge")), TERMS))

    assert (measured.need, measured.usable, measured.short) == (51_300, 1_200, 50_100)
    assert packages == replace(pieces, item=packages.item)
    assert (pieces.need, pieces.usable, pieces.short) == (60_000, 0, 60_000)


def test_pieces_that_come_in_parts_of_one_are_not_whole():
    stages = (StageBook(1, "CB-1", "seals", planned=AS_OF, takeoff=51_234, drawn=51_234),)
    item = ShortItem(1, "X", unit="each", pack=5_000)
    assert rounded_line(reckon(ItemBooks(item, stages=stages), TERMS)).short == 51_300
    assert rounded_line(reckon(ItemBooks(replace(item, pack=20_000), stages=stages), TERMS)).short == 60_000


def test_what_a_line_says_beside_its_sums_is_rounded_so_that_nobody_counts_on_too_much():
    stages = (StageBook(1, "CB-1", "seals", planned=AS_OF, takeoff=50_040, drawn=50_040),)
    line = reckon(ItemBooks(ShortItem(1, "X", unit="kg"), stages=stages), TERMS)
    used = (
        Evidence("CB-2", "seals", planned=10_040, used=10_060),
        Evidence("CB-3", "seals", planned=10_060, used=10_040),
    )
    usage = LearnedUsage(Fraction(10_050), Fraction(1), Fraction(2), 2, Fraction(1), Fraction(19, 20), evidence=used)
    line = replace(
        line,
        needs=(replace(line.needs[0], expected=51_240),),
        expedite=10_040,
        too_late=(TooLate("shipment", "S-1", 10_040, None, AS_OF, None),),
        substitutes=(Substitute("Y", "", "each", 10_060, 10_060, Fraction(1)),),
        drafts=(("O-1", 10_040), ("O-2", 10_050)),
        usage=usage,
    )

    shown = rounded_line(line)

    assert (shown.expedite, shown.too_late[0].quantity, shown.needs[0].expected) == (10_100, 10_100, 51_300), "up"
    assert shown.substitutes[0].equals == 10_000, "down"
    assert [ticks for _, ticks in shown.drafts] == [10_000, 10_100], "to the nearest"
    assert [(one.planned, one.used) for one in shown.usage.evidence] == [(10_000, 10_100), (10_100, 10_000)]
    packages = rounded_line(replace(line, item=replace(line.item, unit="cartridge")))
    assert [(one.planned, one.used) for one in packages.usage.evidence] == [(10_000, 10_000), (10_000, 10_000)]
    half = replace(usage, evidence=(Evidence("CB-2", "seals", planned=4_000, used=6_000),))
    packages = rounded_line(replace(line, item=replace(line.item, unit="cartridge"), usage=half))
    assert [(one.planned, one.used) for one in packages.usage.evidence] == [(4_000, 6_000)], "what was used is no order"


@pytest.mark.parametrize("field", ["need_covered", "usable", "inbound"])
def test_where_nothing_is_short_the_largest_figure_says_what_all_are_rounded_to(field):
    line = reckon(ItemBooks(ShortItem(1, "X", unit="kg")), TERMS)
    assert step_of(replace(line, **{field: 1_234_567})) == 10_000
    assert step_of(replace(line, **{field: 123_456})) == 1_000

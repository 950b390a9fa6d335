"""A substitute covers need by its contents, and nothing is made or lost by counting it so."""

from dataclasses import replace
from fractions import Fraction
from math import trunc

from hypothesis import given
from hypothesis import strategies as st

from kits.receiving.counting.came_instead import Goods
from kits.shortages.reckon.item import ItemBooks, OrderedLine, PackedLine, StageBook, Terms, reckon
from kits.shortages.reckon.lines import ShortItem
from kits.shortages.reckon.projection import LotStock, usable
from kits.shortages.reckon.substitutes import absorb, stand_ins
from tests.kits.shortages.reckon.strategies import AS_OF, item_books, terms

UNIT = 10_000
# 28 and 10.1 fl oz: one large cartridge holds 2.772 of the small ones.
EACH = Fraction(280, 101)
SMALL = Goods("TUBE", accept="butyl rubber, CARTRIDGE", refuse="latex", contents=Fraction(101, 10))


def test_what_is_accepted_by_name_or_by_grade_with_known_contents_stands_in():
    goods = {
        1: SMALL,
        2: Goods("CARTRIDGE", contents=Fraction(28)),
        3: Goods("SAUSAGE", grade="butyl rubber", contents=Fraction(20)),
        4: Goods("TAPE", grade="butyl rubber"),
        5: Goods("CAULK", grade="latex", contents=Fraction(28)),
        6: Goods("OTHER", grade="polyurethane", contents=Fraction(28)),
    }

    assert stand_ins(goods, wanted=[1], spare=[2, 3, 4, 5, 6]) == {1: [(2, EACH), (3, Fraction(200, 101))]}


def test_what_two_items_accept_stands_in_for_the_first_by_code():
    goods = {1: replace(SMALL, code="B"), 2: replace(SMALL, code="A"), 3: Goods("CARTRIDGE", contents=Fraction(28))}

    assert stand_ins(goods, wanted=[1, 2], spare=[3]) == {2: [(3, EACH)]}


def test_large_cartridges_cover_by_their_contents():
    tubes = ItemBooks(
        item=ShortItem(id=1, code="TUBE"),
        stages=(StageBook(1, "CB-1", "seals", takeoff=30 * UNIT, drawn=30 * UNIT),),
    )
    large = ItemBooks(
        item=ShortItem(id=2, code="CARTRIDGE"),
        stages=(StageBook(1, "CB-1", "seals", issued=3 * UNIT),),
        lots=(LotStock(2 * UNIT),),
        counted=5 * UNIT,
    )
    line = reckon(absorb(tubes, large, EACH, 2 * UNIT), Terms(as_of=AS_OF))

    # 3 handed out are worth 8.3168 tubes, 2 on hand 5.5445.
    assert (line.issued, line.usable, line.need) == (83_168, 55_445, 216_832)
    assert (line.short, line.order) == (216_832 - 55_445, 17 * UNIT)
    assert [(s.code, s.usable, s.equals, s.each) for s in line.substitutes] == [("CARTRIDGE", 20_000, 55_445, EACH)]


@given(books=item_books(), other=item_books(), each=st.fractions(Fraction(1, 20), 20, max_denominator=997), terms=terms)
def test_books_with_a_substitute_in_them_still_add_up(books, other, each, terms):
    line = reckon(absorb(books, other, each, usable(other.lots, AS_OF)), terms)

    assert sum(line.causes.values()) == line.gap


def test_lots_cut_to_whole_ticks_leave_no_crumb_that_blames_a_carrier_or_a_supplier():
    """Worked by hand: 3 x 2.7722 = 8.3166 lie in lots, 8.3168 were listed; nothing was short."""
    tubes = ItemBooks(item=ShortItem(id=1, code="TUBE"))
    large = ItemBooks(
        item=ShortItem(id=2, code="CARTRIDGE"),
        lots=(LotStock(UNIT), LotStock(UNIT), LotStock(UNIT)),
        packing=(PackedLine("S-1", 3 * UNIT, 3 * UNIT, closed=True),),
        orders=(OrderedLine("O-1", 3 * UNIT, shipped=3 * UNIT),),
        counted=3 * UNIT,
    )
    line = reckon(absorb(tubes, large, EACH, 3 * UNIT), Terms(as_of=AS_OF))

    assert line.usable == 83_166
    assert {name: ticks for name, ticks in line.causes.items() if ticks} == {"ordered_since": -83_166}


@given(books=item_books(), other=item_books(), each=st.fractions(Fraction(1, 20), 20, max_denominator=997), terms=terms)
def test_a_substitute_adds_to_what_carrier_and_supplier_answer_for_only_what_they_do(books, other, each, terms):
    alone, substitute = reckon(books, terms), reckon(other, terms)
    both = reckon(absorb(books, other, each, usable(other.lots, AS_OF)), terms)

    told = [*(["short_at_count"] if other.packing else []), *(["not_shipped"] if other.orders else [])]
    assert [both.causes[one] - alone.causes[one] for one in told] == [
        trunc(substitute.causes[one] * each) for one in told
    ]

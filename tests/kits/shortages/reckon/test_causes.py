"""The parts of a gap add up exactly, after any history."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings

from kits.shortages.reckon import causes
from kits.shortages.reckon.causes import answers_for
from kits.shortages.reckon.item import ItemBooks, OrderedLine, PackedLine, StageBook, reckon
from kits.shortages.reckon.lines import CAUSES, PARTS, ShortItem
from kits.shortages.reckon.projection import LotStock
from kits.shortages.reckon.usage import PRIORS
from kits.shortages.told.rounded import rounded_line
from kits.shortages.told.words import cause_in_words, causes_largest_first, main_cause_in_words, owed_in_words
from takeoff.units.exact import SCALE as UNIT
from tests.kits.shortages.reckon.strategies import AS_OF, Terms, item_books, terms

TERMS = Terms(as_of=AS_OF)


def line(**books):
    books.setdefault("item", ShortItem(id=1, code="X", pack=1))
    return reckon(ItemBooks(**books), TERMS)


def only(**parts):
    """All causes at nothing but these."""
    return {**dict.fromkeys(CAUSES, 0), **parts}


def test_every_part_has_words_and_somebody_who_answers():
    assert tuple(causes.CAUSE_WORDS) == PARTS
    assert causes.CAUSE_WORDS_BELOW.keys() < set(PARTS)


@settings(max_examples=400)
@given(books=item_books(), terms=terms)
def test_causes_add_up_to_the_gap_and_the_rest_to_what_is_short(books, terms):
    line = reckon(books, terms)

    assert sum(line.causes.values()) == line.need - line.usable - line.inbound
    assert line.learned == line.need_covered - line.need == line.use + line.reserve
    assert line.reserve >= 0
    assert line.short == max(0, line.gap + line.learned) + line.timing
    assert line.timing >= 0
    assert tuple(line.causes) == CAUSES


@given(books=item_books(), terms=terms)
def test_a_quantity_made_out_of_nothing_is_noticed(books, terms):
    with pytest.raises(causes.BooksDoNotAddUp, match="X: the causes add up to"):
        reckon(replace(books, counted=books.counted + 1), terms)


def test_a_changed_timing_is_noticed():
    good = line()

    with pytest.raises(causes.BooksDoNotAddUp, match="X: short is 0"):
        causes.check(replace(good, timing=1))
    with pytest.raises(causes.BooksDoNotAddUp, match="X: learned is 1"):
        causes.check(replace(good, learned=1))


def needs(takeoff, **more):
    return (StageBook(1, "CB-1", "cables", takeoff=takeoff, **{"drawn": takeoff, **more}),)


def test_a_run_that_grew_on_site_is_the_jobs():
    grown = line(
        stages=needs(12, drawn=10),
        promised=10,
        packing=(PackedLine("S", 10, 10, True),),
        counted=10,
        lots=(LotStock(10),),
    )

    assert grown.causes == only(length_changed=2)
    assert grown.short == 2


def test_a_kit_list_below_the_drawing_is_the_suppliers_engineerings():
    assert line(stages=needs(10), promised=8, packing=(PackedLine("S", 8),)).causes == only(kit_list=2)


def test_what_was_promised_and_never_sent_is_the_suppliers():
    assert line(stages=needs(10), promised=10, packing=(PackedLine("S", 7),)).causes == only(not_shipped=3)


def test_what_is_on_a_closed_list_and_was_not_counted_is_short_at_the_count():
    closed = line(
        stages=needs(10), promised=10, packing=(PackedLine("S", 10, 8, True),), counted=8, lots=(LotStock(8),)
    )

    assert closed.causes == only(short_at_count=2)


def test_an_open_list_still_brings_what_was_not_counted():
    part = line(stages=needs(10), promised=10, packing=(PackedLine("S", 10, 4),), counted=4, lots=(LotStock(4),))

    assert (part.inbound, part.gap, part.causes) == (6, 0, only())


def test_an_excess_on_an_open_list_makes_the_gap_smaller():
    over = line(stages=needs(15), promised=15, packing=(PackedLine("S", 10, 12),), counted=12, lots=(LotStock(12),))

    assert (over.gap, over.causes) == (3, only(not_shipped=5, short_at_count=-2))


def test_damaged_goods_are_rejected():
    damaged = line(
        stages=needs(10),
        promised=10,
        packing=(PackedLine("S", 10, 10, True),),
        counted=10,
        lots=(LotStock(7),),
        rejected=3,
    )

    assert damaged.causes == only(rejected=3)


def test_an_order_of_the_purchaser_fills_the_gap_and_shows_as_such():
    ordered = line(stages=needs(10), promised=6, packing=(PackedLine("S", 6),), orders=(OrderedLine("O", 4),))

    assert ordered.causes == only(kit_list=4, ordered_since=-4)
    assert (ordered.gap, ordered.ordered, ordered.inbound) == (0, 4, 10)


def test_a_closed_order_counts_what_was_shipped_against_it():
    closed = line(stages=needs(4), orders=(OrderedLine("O", 4, shipped=3, open=False),), packing=(PackedLine("S", 3),))

    assert (closed.ordered, closed.inbound, closed.gap) == (3, 3, 1)
    assert closed.causes == only(kit_list=4, ordered_since=-3)


def test_what_an_open_order_has_on_a_shipment_is_not_counted_twice():
    part = line(stages=needs(4), orders=(OrderedLine("O", 4, shipped=3),), packing=(PackedLine("S", 3),))

    assert (part.inbound, part.gap) == (4, 0)


def test_a_done_stage_needs_nothing_and_its_leftovers_make_the_gap_smaller():
    done = line(
        stages=needs(10, issued=8, done=True),
        promised=10,
        packing=(PackedLine("S", 10, 10, True),),
        counted=10,
        lots=(LotStock(2),),
    )

    assert (done.need, done.used, done.gap, done.causes) == (0, 8, -2, only(used_beyond_plan=-2))


def test_use_beyond_the_plan_is_the_crews():
    more = line(
        stages=(*needs(10, issued=13, done=True), StageBook(1, "CB-2", "cables", takeoff=10, drawn=10)),
        promised=20,
        packing=(PackedLine("S", 20, 20, True),),
        counted=20,
        lots=(LotStock(7),),
    )

    assert (more.gap, more.causes) == (3, only(used_beyond_plan=3))


def test_what_comes_fitted_is_neither_needed_loose_nor_short():
    fitted = line(item=ShortItem(id=1, code="X", pack=1, fitted="straight"), stages=needs(40))

    assert (fitted.need, fitted.short, fitted.causes) == (0, 0, only())


def test_where_no_kit_is_promised_nobodys_engineering_failed():
    stages = (StageBook(1, "CB-1", "cables", takeoff=10, drawn=10),)
    none = reckon(ItemBooks(item=ShortItem(id=1, code="X", pack=1), stages=stages), Terms(as_of=AS_OF))
    some = reckon(ItemBooks(item=ShortItem(id=1, code="X", pack=1), stages=stages, promised=4), Terms(as_of=AS_OF))

    assert (cause_in_words(none, "kit_list", 10), answers_for(none, "kit_list")) == ("no kit promised", "")
    assert cause_in_words(some, "kit_list", 6) == "not on the kit lists"
    assert answers_for(some, "kit_list") == "the supplier's engineering"


def test_nobody_on_the_site_is_named_for_what_was_used():
    sealant = ShortItem(id=1, code="X", pack=1, prior=PRIORS["bead"])
    ahead = StageBook(3, "CB-3", "seals", takeoff=100, drawn=100)

    def line(*used):
        done = [
            StageBook(n, f"CB-{n}", "seals", done=True, takeoff=100, drawn=100, issued=u) for n, u in enumerate(used)
        ]
        return reckon(ItemBooks(item=sealant, stages=(*done, ahead), counted=sum(used)), TERMS)

    usual, as_planned, beyond = line(), line(100), line(150)
    assert (usual.use, as_planned.use, beyond.use) == (20, 10, 35)
    assert cause_in_words(usual, "use", usual.use) == "more than drawn, as is usual for such goods"
    assert cause_in_words(beyond, "use", beyond.use) == "more by what finished stages used"
    assert [answers_for(one, "use") for one in (usual, as_planned, beyond)] == ["", "", ""]


def test_the_largest_part_is_told_first_and_a_free_replacement_apart_from_what_is_to_be_paid():
    orders = (
        OrderedLine("O-1", 30, expected=AS_OF),
        OrderedLine("O-2", 12, expected=AS_OF, free=True),
        OrderedLine("O-3", 9, shipped=4, open=False, free=True),
    )
    stages = (StageBook(1, "CB-1", "seals", takeoff=100, drawn=90),)
    here = {"packing": (PackedLine("S-1", 4, 4, closed=True),), "counted": 4, "lots": (LotStock(4),)}
    short = line(stages=stages, orders=orders, promised=80, **here)

    assert (short.ordered, short.free) == (46, 16)
    assert [(words, ticks) for _, words, ticks in causes_largest_first(short, CAUSES)] == [
        ("promised, not shipped", 80),
        ("for runs longer than drawn", 10),
        ("not on the kit lists", 10),
        ("free replacement, ordered since", -16),
        ("ordered since", -30),
    ]


@given(books=item_books(), terms=terms)
def test_what_is_told_of_the_causes_adds_up_to_the_gap(books, terms):
    free = replace(books, orders=tuple(replace(one, free=True) for one in books.orders[::2]) + books.orders[1::2])
    for one in (reckon(free, terms), rounded_line(reckon(free, terms))):
        assert sum(ticks for _, _, ticks in causes_largest_first(one, CAUSES)) == one.gap


def test_what_was_promised_and_never_shipped_is_not_hidden_behind_an_order_placed_since():
    stages = (StageBook(1, "CB-1", "seals", planned=AS_OF + timedelta(days=2), takeoff=40 * UNIT, drawn=40 * UNIT),)
    orders = (OrderedLine("O-1", 40 * UNIT, expected=AS_OF + timedelta(days=9)),)
    late = line(stages=stages, orders=orders, promised=40 * UNIT)

    assert (late.order, late.expedite) == (0, 40 * UNIT)
    assert main_cause_in_words(late).endswith("; 40 promised, not shipped, whatever was ordered since")
    assert owed_in_words(line(stages=stages, orders=orders)) == "", "nobody promised it"
    assert owed_in_words(line(stages=stages, promised=40 * UNIT)) == "", "it is the main cause, and told as such"

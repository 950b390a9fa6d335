"""A reconciliation as a table for people, in the width that there is."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.shortages.reckon.item import ItemBooks, OrderedLine, PackedLine, StageBook, Terms, reckon
from kits.shortages.reckon.lines import CableLine, Missing, Reconciliation, ShortItem, StageReadiness, UnmetLength
from kits.shortages.reckon.projection import LotStock
from kits.shortages.reckon.usage import PRIORS
from kits.shortages.reckon.working_days import LeadTime
from kits.shortages.told.as_json import as_json, plain
from kits.shortages.told.as_text import about_length, as_text, stage_text, why_short
from tests.kits.shortages.reckon.strategies import AS_OF

FOOT = 3_048_000


def line(code, need, *, planned=None, lead=0, pack=10_000, **books):
    stages = (StageBook(1, "CB-1", "cables", planned=planned, takeoff=need, drawn=need),)
    item = ShortItem(id=1, code=code, lead=LeadTime(lead), pack=pack)
    return reckon(ItemBooks(item=item, stages=stages, **books), Terms(as_of=AS_OF))


def day(number):
    return AS_OF + timedelta(days=number)


def readiness(stage, state, **more):
    return StageReadiness(run_id=1, run="CB-1", stage=stage, planned=None, state=state, **more)


SITE = Reconciliation(
    site="yard",
    as_of=AS_OF,
    lines=(
        line("WASHER", 500_000),
        line("BOLT", 80_000, planned=day(40), pack=250_000),
        line("LUG", 45_000, planned=day(20), lead=30),
        line("NUT", 10_000, lots=(LotStock(10_000),), lost=-10_000),
    ),
    cables=(
        CableLine(
            cable="C500",
            need=120 * FOOT,
            cut=40 * FOOT,
            open=80 * FOOT,
            on_reels=50 * FOOT,
            unmet=(UnmetLength("CB-1", "B1", 40 * FOOT),),
            method="cut plan worked out now",
        ),
    ),
    readiness=(
        readiness("enclosure", "done"),
        readiness("cables", "ready but for", missing=(Missing("LUG", "the LUG", "each", 45_000),)),
    ),
)


def test_short_items_come_by_the_day_to_order_them_with_why_they_are_short():
    told = list(as_text(SITE, name="The yard", unit="ft", width=120))

    assert told == [
        "CB-1: cables here but for 5 LUG",
        "",
        "C500: 80 ft to be cut of 120 ft, 50 ft here",
        "    1 length finds no reel (cut plan worked out now): CB-1 B1 40 ft",
        "",
        "The yard, as of 2026-05-04: 3 of 4 items short.",
        "",
        "order by      short on    item    short  order  expedite  unit  why it is short",
        "2026-04-21 !  2026-05-24  LUG         5      5         0  each  5 no kit promised",
        "2026-06-10    2026-06-13  BOLT        8     25         0  each  8 no kit promised",
        "undated                   WASHER     50     50         0  each  50 no kit promised",
        "! the day to order has passed",
    ]


def test_what_comes_too_late_is_said_with_what_was_never_shipped():
    stages = (StageBook(1, "CB-1", "cables", planned=day(5), takeoff=100_000, drawn=100_000),)
    item = ShortItem(id=1, code="LUG", unit="each")
    coming = {"orders": (OrderedLine("O-1", 100_000, expected=day(8)),)}
    late = reckon(ItemBooks(item, stages=stages, **coming), Terms(as_of=AS_OF))
    owed = reckon(ItemBooks(item, stages=stages, promised=40_000, **coming), Terms(as_of=AS_OF))

    told = "All of it is on the way, only too late: O-1 comes 3 days after 9 May 2026. "
    told += "Expedite it, or move the work; ordering again makes it too many."
    assert why_short(late) == told
    assert why_short(owed) == f"{told} 4 promised, not shipped, whatever was ordered since."


def test_the_largest_part_is_told_with_who_answers_and_how_many_others_there_are():
    """Need 20, promised 15, sent 11, 3 of them rejected: 5 not promised, 4 not shipped, 3 rejected."""
    stages = (StageBook(1, "CB-1", "cables", planned=day(5), takeoff=200_000, drawn=200_000),)
    books = ItemBooks(
        ShortItem(id=1, code="LUG", unit="each"),
        stages=stages,
        lots=(LotStock(80_000),),
        promised=150_000,
        packing=(PackedLine("S-1", 110_000, counted=110_000, closed=True),),
        counted=110_000,
        rejected=30_000,
    )
    found = reckon(books, Terms(as_of=AS_OF))

    assert (found.short, found.order_by) == (120_000, None)
    assert why_short(found) == "the supplier's engineering: 5 not on the kit lists, and 2 more"


def test_an_order_that_is_due_today_is_not_overdue():
    stages = (StageBook(1, "CB-1", "cables", planned=day(4), takeoff=10_000, drawn=10_000),)
    item = ShortItem(id=1, code="LUG", unit="each", lead=LeadTime(1))
    for buffer, order_by in ((3, f"{AS_OF}"), (4, f"{day(-3)} !")):  # 4 May is a Monday, 1 May the Friday before
        found = reckon(ItemBooks(item, stages=stages), Terms(as_of=AS_OF, buffer_days=buffer))
        told = list(as_text(Reconciliation("yard", AS_OF, lines=(found,)), name="Y", unit="ft", width=100))
        assert told[3].split("  ")[0] == order_by


def test_what_is_for_chance_alone_is_said_to_be_spare():
    stages = (StageBook(1, "CB-1", "seals", planned=day(10), takeoff=100_000, drawn=100_000),)
    item = ShortItem(id=1, code="SEALANT", pack=10_000, prior=PRIORS["bead"])
    need = reckon(ItemBooks(item, stages=stages), Terms(as_of=AS_OF)).need_expected
    spare = reckon(ItemBooks(item, stages=stages, lots=(LotStock(need),), lost=-need), Terms(as_of=AS_OF))

    assert spare.order == spare.spare > 0
    assert why_short(spare) == "spare only: what is expected is covered, so it goes along with the next order"


def test_nothing_is_said_of_why_where_nothing_is_short():
    assert why_short(line("NUT", 10_000, lots=(LotStock(10_000),), lost=-10_000)) == ""


def test_brief_text_says_one_short_line_for_each_run():
    rows = (
        readiness("enclosure", "done"),
        readiness("cables", "ready but for", missing=(Missing("C500", "", "mm", FOOT), Missing("X", "", "", 10_000))),
        readiness("seals", "blocked by", blocked_by=("cables",), missing=(Missing("Y", "", "", 10_000),)),
    )
    site = Reconciliation("yard", AS_OF, readiness=rows)

    told = list(as_text(site, name="The yard", unit="ft", width=80, brief=True))
    assert told[1] == "Material only. Permit, isolation and proof of dead are the site's.", "seals are still open"
    del told[1]
    assert told == [
        "CB-1: cables here but for 1 length and 1 item",
        "",
        "The yard, as of 2026-05-04: 0 of 0 items short.",
    ]


@pytest.mark.parametrize("width", [40, 64, 72, 80, 100, 132])
def test_no_line_is_wider_than_the_terminal(width):
    told = list(as_text(SITE, name="The yard", unit="ft", width=width))

    assert all(len(text) <= width for text in told)
    assert any("no kit promised" in text for text in told)


def test_nothing_short_is_said_so():
    told = list(as_text(Reconciliation("yard", AS_OF), name="The yard", unit="ft", width=80))

    assert told == ["The yard, as of 2026-05-04: 0 of 0 items short."]


def test_a_stage_that_waits_says_for_what_and_what_it_lacks():
    lengths = tuple(Missing("C500", name, "mm", 84 * FOOT) for name in ("A1", "B1", "C1"))
    row = readiness("cables", "blocked by", blocked_by=("enclosure",), missing=(*lengths, Missing("X", "", "", 10_000)))

    assert stage_text(row, "ft") == "cables wait for enclosure (lack 3 × 84 ft of C500, 1 X)"


def test_a_drying_seal_says_when_the_run_may_be_energized():
    row = readiness("seals", "done", not_before=datetime(2026, 5, 5, 17, 30, tzinfo=UTC))
    site = Reconciliation("yard", AS_OF, readiness=(row,))

    assert stage_text(row, "ft") == "seals done, not to be energized before 2026-05-05 17:30"
    assert next(iter(as_text(site, name="The yard", unit="ft", width=80))) == f"CB-1: {stage_text(row, 'ft')}"
    assert len(list(as_text(Reconciliation("yard", day(2), readiness=(row,)), name="Y", unit="ft", width=80))) == 1


def test_many_missing_items_are_named_in_part():
    row = readiness("covers", "ready but for", missing=tuple(Missing(f"I-{n}", "", "", 10_000) for n in range(9)))

    assert stage_text(row, "m").endswith("1 I-5 and 3 more")


@given(ticks=st.integers(1, 10**12), unit=st.sampled_from(["ft", "m"]))
def test_a_need_is_never_shown_shorter_nor_a_stock_longer_than_it_is(ticks, unit):
    def length(text):
        return Fraction(text.removesuffix(f" {unit}").replace("\u202f", "")) * (
            3_048_000 if unit == "ft" else 10_000_000
        )

    assert length(about_length(ticks, unit, up=False)) <= ticks <= length(about_length(ticks, unit))


def test_numbers_for_machines_are_whole_where_they_can_be():
    assert [plain(ticks) for ticks in (0, 10_000, -25_000, 1, None)] == [0, 1, -2.5, 0.0001, None]
    assert type(plain(10_000)) is int


def test_json_has_the_documented_keys_and_no_others():
    told = as_json(SITE)

    assert list(told) == ["site", "as_of", "lines", "cables", "readiness"]
    assert " ".join(told["lines"][0]) == (
        "item unit takeoff promised ordered shipped counted rejected on_hand usable issued used inbound need "
        "need_expected need_covered short short_on order_by order expedite spare learned timing other_runs causes"
    )
    assert " ".join(told["lines"][0]["causes"]) == (
        "length_changed kit_list not_shipped short_at_count rejected expired lost scrapped other_site "
        "used_beyond_plan ordered_since"
    )
    assert told["cables"] == [
        {
            "cable": "C500",
            "need": 36576,
            "cut": 12192,
            "on_reels": 15240,
            "unmet": [{"run": "CB-1", "conductor": "B1", "length": 12192}],
            "buy": None,
            "scrap": None,
            "remnants": None,
            "bound": None,
            "gap": None,
            "proven": False,
            "short_on": None,
            "order_by": None,
            "order": None,
            "on_order": [],
        }
    ]
    assert told["readiness"][1] == {
        "run": "CB-1",
        "stage": "cables",
        "planned": None,
        "state": "ready but for",
        "blocked_by": [],
        "missing": [{"item": "LUG", "quantity": 4.5, "unit": "each"}],
        "not_before": None,
    }

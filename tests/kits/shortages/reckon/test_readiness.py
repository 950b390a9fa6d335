"""Stock goes to whoever works first; a stage says what it lacks and what it waits for."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from kits.shortages.reckon.lines import Missing
from kits.shortages.reckon.projection import LotStock
from kits.shortages.reckon.readiness import Store, Work, ready
from tests.kits.shortages.reckon.strategies import AS_OF, STAGES, lots, maybe_days, quantities

ITEMS = {code: Missing(code, f"the {code}", "each", 0) for code in ("LUG", "BOLT")}


def day(number):
    return AS_OF + timedelta(days=number)


def work(run, stage, planned=None, done=None, **needs):
    number = int(run.removeprefix("CB-"))
    return Work(number, run, stage, STAGES.index(stage), planned=planned, done=done, needs=needs)


def store(boxes=None, **pool):
    return Store({item: [LotStock(quantity)] for item, quantity in pool.items()}, boxes or {}, ITEMS)


def states(rows):
    return [(row.run, row.stage, row.state, tuple((m.item, m.quantity) for m in row.missing)) for row in rows]


def test_a_stage_is_ready_when_all_that_it_needs_is_here():
    rows = ready([work("CB-1", "enclosure", LUG=4)], store(LUG=4), as_of=AS_OF)

    assert states(rows) == [("CB-1", "enclosure", "ready", ())]


def test_a_stage_names_what_it_lacks():
    (row,) = ready([work("CB-1", "enclosure", LUG=4, BOLT=9)], store(LUG=4, BOLT=7), as_of=AS_OF)

    assert row.state == "ready but for"
    assert row.missing == (Missing("BOLT", "the BOLT", "each", 2),)


def test_the_pool_goes_to_the_earlier_date_then_to_the_first_run_by_name_and_undated_work_comes_last():
    works = [
        work("CB-1", "enclosure", LUG=4),
        work("CB-3", "enclosure", planned=day(3), LUG=4),
        work("CB-2", "enclosure", planned=day(3), LUG=4),
        work("CB-4", "enclosure", planned=day(2), LUG=4),
    ]

    assert states(ready(works, store(LUG=9), as_of=AS_OF)) == [
        ("CB-1", "enclosure", "ready but for", (("LUG", 4),)),
        ("CB-2", "enclosure", "ready", ()),
        ("CB-3", "enclosure", "ready but for", (("LUG", 3),)),
        ("CB-4", "enclosure", "ready", ()),
    ]


def test_a_kit_box_serves_its_own_run_before_the_pool_and_nobody_else():
    boxes = {(2, "LUG"): [LotStock(6)]}
    works = [work("CB-1", "enclosure", planned=day(1), LUG=4), work("CB-2", "enclosure", planned=day(2), LUG=8)]

    assert states(ready(works, store(boxes, LUG=3), as_of=AS_OF)) == [
        ("CB-1", "enclosure", "ready but for", (("LUG", 1),)),
        ("CB-2", "enclosure", "ready but for", (("LUG", 2),)),
    ]


def test_a_lot_serves_work_up_to_its_last_day():
    stock = Store({"LUG": [LotStock(4, day(5)), LotStock(4)]}, {}, ITEMS)
    works = [work("CB-1", "enclosure", planned=day(5), LUG=4), work("CB-2", "enclosure", planned=day(6), LUG=5)]

    assert states(ready(works, stock, as_of=AS_OF)) == [
        ("CB-1", "enclosure", "ready", ()),
        ("CB-2", "enclosure", "ready but for", (("LUG", 1),)),
    ]


def test_a_stage_waits_for_the_earlier_ones_and_still_says_what_it_lacks():
    works = [work("CB-1", "enclosure", LUG=1), work("CB-1", "cables"), work("CB-1", "seals", BOLT=2)]
    rows = ready(works, store(LUG=1), as_of=AS_OF)

    assert [row.blocked_by for row in rows] == [(), ("enclosure",), ("enclosure", "cables")]
    assert states(rows)[2] == ("CB-1", "seals", "blocked by", (("BOLT", 2),))


def test_nothing_waits_for_a_stage_with_nothing_to_do():
    idle = Work(1, "CB-1", "seals", 2, idle=True)

    assert [row.state for row in ready([idle, work("CB-1", "covers")], store(), as_of=AS_OF)] == ["ready", "ready"]


def test_a_done_stage_holds_nobody_up_and_takes_first_what_it_may_have_used():
    done = datetime(2026, 5, 1, 17, tzinfo=UTC)
    works = [work("CB-1", "enclosure", done=done, LUG=9), work("CB-1", "cables", planned=day(-30), LUG=9)]

    assert states(ready(works, store(LUG=18), as_of=AS_OF))[1] == ("CB-1", "cables", "ready", ())
    first = [work("CB-2", "enclosure", done=done, LUG=9), work("CB-1", "cables", planned=day(-2), LUG=9)]
    assert states(ready(first, store(LUG=12), as_of=AS_OF))[0] == ("CB-1", "cables", "ready but for", (("LUG", 6),))

    works = [work("CB-1", "enclosure", done=done), work("CB-1", "cables", LUG=9)]

    assert states(ready(works, store(LUG=9), as_of=AS_OF)) == [
        ("CB-1", "enclosure", "done", ()),
        ("CB-1", "cables", "ready", ()),
    ]


def test_cables_lack_the_lengths_that_no_reel_has():
    lengths = (Missing("500", "A1", "mm", 300_000_000),)
    rows = ready([Work(1, "CB-1", "cables", 1, cable=lengths)], store(), as_of=AS_OF)

    assert (rows[0].state, rows[0].missing) == ("ready but for", lengths)


def test_a_caulked_seal_dries_before_the_run_may_be_energized():
    """24 h dry before energizing: common practice; the sealant's data sheet governs."""
    done = datetime(2026, 5, 1, 17, tzinfo=UTC)
    works = [work("CB-1", "seals", done=done), work("CB-2", "seals", done=done), work("CB-3", "seals")]
    rows = ready(works, store(), as_of=AS_OF, caulked={1, 3})

    assert [row.not_before for row in rows] == [datetime(2026, 5, 2, 17, tzinfo=UTC), None, None]


def test_a_seal_done_on_a_date_alone_dries_from_the_end_of_that_day():
    done = datetime(2026, 5, 1, 23, 59, 59, 999_999, tzinfo=UTC)
    (row,) = ready([work("CB-1", "seals", done=done)], store(), as_of=AS_OF, caulked={1})

    assert row.not_before == datetime(2026, 5, 3, tzinfo=UTC)


def test_a_run_without_a_takeoff_is_never_ready():
    (row,) = ready([work("CB-1", "enclosure")], store(), as_of=AS_OF, without_takeoff={1})

    assert (row.state, row.blocked_by) == ("blocked by", ("no takeoff",))


works = st.lists(
    st.builds(
        lambda run, stage, planned, lug, bolt: work(f"CB-{run}", stage, planned=planned, LUG=lug, BOLT=bolt),
        st.integers(1, 4),
        st.sampled_from(STAGES),
        maybe_days,
        quantities,
        quantities,
    ),
    max_size=8,
    unique_by=lambda w: (w.run, w.stage),
)


@given(works=works, pool=lots, box=lots)
def test_no_more_is_given_out_than_there_is_and_only_to_those_who_need_it(works, pool, box):
    rows = ready(works, Store({"LUG": pool}, {(1, "LUG"): box}, ITEMS), as_of=AS_OF)

    needed = sum(w.needs["LUG"] for w in works)
    missing = sum(m.quantity for row in rows for m in row.missing if m.item == "LUG")
    assert 0 <= needed - missing <= sum(lot.quantity for lot in (*pool, *box))
    keeps = sum(lot.quantity for lot in pool if lot.expires is None)
    assert missing <= max(0, needed - keeps)
    assert all(m.quantity > 0 for row in rows for m in row.missing)


def test_a_seal_dries_its_hours_over_the_spring_clock_change():
    # Clocks go forward at 02:00 on 2027-03-14 (US, 15 USC 260a): 20:00 to 21:00 of the next day are 24 hours.
    chicago = ZoneInfo("America/Chicago")
    done = datetime(2027, 3, 13, 20, 0, tzinfo=chicago)
    (row,) = ready([work("CB-1", "seals", done=done)], store(), as_of=AS_OF, caulked={1})
    assert row.not_before == datetime(2027, 3, 14, 21, 0, tzinfo=chicago)
    assert row.not_before.astimezone(UTC) - done.astimezone(UTC) == timedelta(hours=24)


def test_a_gang_box_serves_the_runs_of_its_crew_first_and_what_is_spare_in_it_is_told_to_others():
    boxes = {("A's box", "LUG"): [LotStock(6), LotStock(3, day(-1))], ("B's box", "LUG"): [LotStock(1)]}
    own = replace(work("CB-2", "enclosure", planned=day(2), LUG=8), gang_box="A's box")
    works = [work("CB-1", "enclosure", planned=day(1), LUG=4), own]
    rows = ready(works, Store({"LUG": [LotStock(3)]}, {}, ITEMS, boxes), as_of=AS_OF)
    assert states(rows) == [
        ("CB-1", "enclosure", "ready but for", (("LUG", 1),)),
        ("CB-2", "enclosure", "ready but for", (("LUG", 2),)),
    ]
    assert [one.in_boxes for row in rows for one in row.missing] == [(("B's box", 1),)] * 2

"""The books of all three floors, gathered as of a day in a fixed number of queries."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kits.models import KitBox, Order
from kits.shortages.queries import reconcile
from kits.shortages.reckon.causes import BooksDoNotAddUp
from kits.shortages.reckon.lines import CAUSES
from kits.stock.models import Balance
from kits.stock.places import Places
from takeoff.models import Item, Place
from takeoff.rules.services import overrule, refresh_takeoffs
from tests.factories.kits import OrderLineFactory
from tests.factories.reels import CutPlanFactory, PlannedCutFactory, ReelFactory
from tests.factories.takeoff import (
    CableFactory,
    ConductorFactory,
    ItemFactory,
    NothingUsedFactory,
    RunEndFactory,
    RunFactory,
    UsagePriorFactory,
)
from tests.kits.shortages.scene import AS_OF, Scene, at

pytestmark = pytest.mark.django_db
UNIT = 10_000


def line_of(scene, code="LUG", as_of=AS_OF):
    (line,) = [line for line in reconcile(scene.site, as_of).lines if line.item.code == code]
    return line


def some(line):
    """The causes that are not nothing, in units."""
    return {cause: Decimal(value) / UNIT for cause, value in line.causes.items() if value}


@pytest.fixture
def scene():
    return Scene()


@pytest.fixture
def lug(scene):
    return scene.item(pack=25)


@pytest.fixture
def run(scene):
    return scene.run()


def test_every_item_has_a_line_even_with_nothing_in_its_books(scene, lug):
    line = line_of(scene)

    assert (line.need, line.short, line.order, line.order_by) == (0, 0, 0, None)
    assert line.causes == dict.fromkeys(CAUSES, 0)
    assert (line.item.code, line.item.supplier, line.item.lead.days, line.item.pack) == ("LUG", "Supplier", 10, 250_000)


def test_a_history_of_every_kind_adds_up(scene, lug, run):
    other = scene.run("CB-2")
    scene.needs(run, lug, "terminations", 40, drawn=36)
    scene.needs(other, lug, "terminations", 30)
    scene.stage(other, "terminations", done=at(3))
    scene.stage(run, "terminations", planned=date(2026, 6, 15))
    scene.promise(lug, 60)
    scene.receive(scene.ship(lug, 50), 48, good=46)
    scene.ship(lug, 6, "S-2", expected=date(2026, 5, 20))
    order = scene.order(lug, 10, expected=date(2026, 5, 25))
    scene.ship(lug, 4, "S-3", order=order)
    places = Places(scene.site)
    scene.hand_out(lug, 33, other, "terminations")
    scene.move(lug, 2, places.handed_out(other, "terminations"), places.spoiled(other, "terminations"), kind="return")
    scene.hand_out(lug, 5, run, "terminations")
    scene.move(lug, 1, scene.bin(), places.scrap(), kind="scrap")
    scene.move(lug, 2, scene.bin(), places.lost_found(), kind="count")
    scene.move(lug, 1, scene.bin(), places.transit(Scene("elsewhere").site.slug))
    line = line_of(scene)

    assert some(line) == {
        "length_changed": 4,
        "kit_list": 6,
        "not_shipped": 4,
        "short_at_count": 2,
        "rejected": 2,
        "lost": 2,
        "scrapped": 1,
        "other_site": 1,
        "used_beyond_plan": 3,
        "ordered_since": -10,
    }
    units = {name: getattr(line, name) / UNIT for name in ("takeoff", "promised", "ordered", "shipped", "counted")}
    assert units == {"takeoff": 70, "promised": 60, "ordered": 10, "shipped": 60, "counted": 48}
    assert [line.issued / UNIT, line.used / UNIT, line.on_hand / UNIT, line.need / UNIT] == [38, 33, 4, 35]
    # 6 more of S-2, 4 of S-3 without a date, 6 still on order.
    assert [line.inbound / UNIT, line.gap / UNIT, line.timing / UNIT, line.short / UNIT] == [16, 15, 4, 19]
    assert (line.short_on, line.order_by, line.order / UNIT) == (date(2026, 6, 15), date(2026, 6, 2), 25)


def test_lots_expire_and_are_used_first_expired_first(scene, lug, run):
    scene.needs(run, lug, "seals", 8)
    scene.stage(run, "seals", planned=AS_OF + timedelta(days=20))
    scene.receive(scene.ship(lug, 5), 5, lot="old", expires=AS_OF - timedelta(days=1))
    scene.receive(scene.ship(lug, 5, "S-2"), 5, lot="new", expires=AS_OF + timedelta(days=19))
    scene.receive(scene.ship(lug, 5, "S-3"), 5, lot="next", expires=AS_OF + timedelta(days=20))
    line = line_of(scene)

    assert (line.on_hand / UNIT, line.usable / UNIT, line.causes["expired"] / UNIT) == (15, 10, 5)
    assert (line.gap / UNIT, line.timing / UNIT, line.short / UNIT) == (-2, 3, 3)


def test_the_books_of_an_earlier_day_leave_out_what_came_later(scene, lug, run):
    scene.needs(run, lug, "terminations", 10)
    scene.stage(run, "terminations", done=at(6))
    packing = scene.ship(lug, 10)
    scene.receive(packing, 4, partial=True, when=at(2))
    second = scene.receive(packing, 6, when=at(5))
    scene.hand_out(lug, 3, run, "terminations", when=at(3))
    scene.hand_out(lug, 4, run, "terminations", when=at(5))
    scene.reverse(second.__class__.objects.of(scene.site).filter(kind="issue").first(), when=at(7))

    def figures(day):
        line = line_of(scene, as_of=date(2026, 5, day))
        return [q // UNIT for q in (line.counted, line.on_hand, line.issued, line.need, line.inbound, line.used)]

    assert figures(1) == [0, 0, 0, 10, 10, 0]
    assert figures(2) == [4, 4, 0, 10, 6, 0]
    assert figures(4) == [4, 1, 3, 7, 6, 0]
    assert figures(5) == [10, 3, 7, 3, 0, 0]
    assert figures(6) == [10, 3, 7, 0, 0, 7]
    assert figures(7) == [10, 6, 4, 0, 0, 4]


def test_a_day_ends_at_midnight_on_site(lug):
    scene = Scene(timezone="America/Chicago")  # UTC-5 in May
    item, run = scene.item(), scene.run()
    scene.needs(run, item, "covers", 5)
    scene.receive(scene.ship(item, 5), 5, when=datetime(2026, 5, 5, 4, 59, tzinfo=UTC))
    scene.receive(scene.ship(item, 2, "S-2"), 2, when=datetime(2026, 5, 5, 5, 0, tzinfo=UTC))

    assert line_of(scene, as_of=date(2026, 5, 4)).counted == 5 * UNIT
    assert line_of(scene, as_of=date(2026, 5, 5)).counted == 7 * UNIT


def test_a_stage_done_at_the_end_of_a_day_is_done_on_that_day(scene, lug, run):
    scene.needs(run, lug, "covers", 5)
    scene.stage(run, "covers", done=datetime(2026, 5, 4, 0, 0, tzinfo=UTC))

    assert not line_of(scene, as_of=date(2026, 5, 2)).needs[0].done
    (need,) = line_of(scene, as_of=date(2026, 5, 3)).needs
    assert (need.done, need.asked, need.planned, need.need) == (True, True, date(2026, 5, 3), 5 * UNIT)


def test_a_done_stage_is_asked_about_until_something_is_handed_out_or_nothing_was_used(scene, lug, run):
    scene.needs(run, lug, "covers", 5)
    scene.stage(run, "covers", planned=date(2026, 6, 1), done=at(2))

    line = line_of(scene, as_of=date(2026, 5, 4))
    assert (line.need, line.short, line.short_on, line.causes["used_beyond_plan"]) == (
        5 * UNIT,
        5 * UNIT,
        date(2026, 5, 4),
        0,
    )
    unused = NothingUsedFactory(run=run, stage="covers", item=lug, at=at(3))
    assert line_of(scene, as_of=date(2026, 5, 2)).need == 5 * UNIT
    assert (line_of(scene, as_of=date(2026, 5, 3)).need, line_of(scene, as_of=date(2026, 5, 3)).short) == (0, 0)
    unused.delete()

    scene.move(lug, 2, Places(scene.site).lost_found(), scene.bin(), kind="count")
    scene.hand_out(lug, 2, run, "covers")
    assert line_of(scene, as_of=date(2026, 5, 4)).need == 0, "it used the two, and is done"


def test_what_a_done_stage_may_have_used_is_not_taken_for_stock_of_others(scene, lug, run):
    other = scene.run("CB-2")
    scene.needs(run, lug, "covers", 5)
    scene.needs(other, lug, "covers", 5)
    scene.stage(run, "covers", done=at(2))
    scene.move(lug, 6, Places(scene.site).lost_found(), scene.bin(), kind="count")
    rows = reconcile(scene.site, date(2026, 5, 4)).readiness
    (row,) = [row for row in rows if (row.run, row.stage) == ("CB-2", "covers")]
    assert [(one.item, one.quantity) for one in row.missing] == [("LUG", 4 * UNIT)]


def test_a_reversed_receipt_opens_its_packing_line_again(scene, lug):
    packing = scene.ship(lug, 10)
    receipt = scene.receive(packing, 8, when=at(2))
    scene.reverse(receipt, when=at(3))

    assert line_of(scene, as_of=date(2026, 5, 2)).inbound == 0
    assert line_of(scene, as_of=date(2026, 5, 3)).inbound == 10 * UNIT


def test_drafts_and_unshipped_kits_are_not_inbound(scene, lug, run):
    scene.needs(run, lug, "covers", 5)
    scene.promise(lug, 5)
    scene.order(lug, 5, state=Order.State.DRAFT)
    line = line_of(scene)

    assert (line.inbound, line.ordered, some(line)) == (0, 0, {"not_shipped": 5})


@pytest.mark.parametrize(("state", "ordered", "inbound"), [("sent", 10, 6), ("closed", 4, 0), ("cancelled", 4, 0)])
def test_an_order_counts_by_its_state(scene, lug, state, ordered, inbound):
    order = scene.order(lug, 10, state=state)
    scene.receive(scene.ship(lug, 4, order=order), 4)
    line = line_of(scene)

    assert (line.ordered / UNIT, line.inbound / UNIT) == (ordered, inbound)


def test_what_comes_fitted_is_not_short(scene, run):
    block = scene.item("BLOCK", fitted="straight")
    scene.needs(run, block, "enclosure", 40)

    assert line_of(scene, "BLOCK").short == 0


def test_finished_stages_teach_how_much_is_used(scene):
    sealant = scene.item("SEALANT", usage="bead")
    first, second = scene.run("CB-1"), scene.run("CB-2")
    for run in (first, second):
        scene.needs(run, sealant, "seals", 10)
    scene.receive(scene.ship(sealant, 20), 20)
    scene.hand_out(sealant, 15, first, "seals")
    scene.stage(first, "seals", done=at(3))
    line = line_of(scene, "SEALANT")

    # kappa = 1 + 1, rate = (1.2 + 1.5)/2.
    assert line.need_expected == 135_000
    assert line.need_covered > line.need_expected > line.need == 10 * UNIT
    assert [(e.run, e.used) for e in line.usage.evidence] == [("CB-1", 15 * UNIT)]
    assert line_of(scene, "SEALANT", date(2026, 5, 2)).usage.evidence == ()


def test_what_a_site_believes_of_a_class_or_of_an_item_is_what_use_begins_with(scene):
    run = scene.run()
    for code, usage in (
        ("SEALANT", "bead"),
        ("GREASE", "bead"),
        ("WIPE", "wiped"),
        ("SCREW", "counted"),
        ("LUG", "fixed"),
    ):
        scene.needs(run, scene.item(code, usage=usage), "seals", 100)
    UsagePriorFactory(site=scene.site, usage="bead", rate="1.5")
    UsagePriorFactory(site=scene.site, item=Item.objects.get(code="GREASE"), rate="0.9")
    UsagePriorFactory(usage="wiped", rate=3)

    expected = {line.item.code: line.need_expected // UNIT for line in reconcile(scene.site, AS_OF).lines}
    assert expected == {"SEALANT": 150, "GREASE": 90, "WIPE": 110, "SCREW": 103, "LUG": 100}


def test_a_stage_that_is_done_with_nothing_handed_out_teaches_nothing(scene):
    sealant = scene.item("SEALANT", usage="bead")
    unlogged, ahead = scene.run("CB-1"), scene.run("CB-2")
    for run in (unlogged, ahead):
        scene.needs(run, sealant, "seals", 10)
    scene.stage(unlogged, "seals", done=at(3))
    line = line_of(scene, "SEALANT")

    assert line.usage.evidence == ()
    assert [n.expected for n in line.needs if n.run == "CB-2"] == [120_000], "as is usual, not a half of it"


def test_a_broken_ledger_is_reported_and_not_shown_as_numbers(scene, lug):
    scene.receive(scene.ship(lug, 5), 5)
    Balance.objects.of(scene.site).filter(place__kind=Place.Kind.BIN).update(quantity=6)

    with pytest.raises(BooksDoNotAddUp, match="LUG: the causes add up to"):
        reconcile(scene.site, AS_OF)


def test_another_sites_books_stay_out(scene, lug):
    other = Scene()
    item = other.item()
    other.receive(other.ship(item, 5), 5)

    assert line_of(scene).counted == 0
    assert line_of(other).counted == 5 * UNIT


def test_a_kit_box_serves_its_run_and_the_pool_everyone(scene, lug, run):
    second = scene.run("CB-2")
    for wanting in (run, second):
        scene.needs(wanting, lug, "enclosure", 6)
    kit = scene.promise(lug, 8, run=second)
    box = Places(scene.site).box_of(kit)
    scene.receive(scene.ship(lug, 13), 13)
    scene.move(lug, 8, scene.bin(), box)
    rows = {(row.run, row.stage): row for row in reconcile(scene.site, AS_OF).readiness}

    assert rows["CB-2", "enclosure"].state == "ready"
    assert rows["CB-1", "enclosure"].state == "ready but for"
    assert [(m.item, m.quantity, m.unit) for m in rows["CB-1", "enclosure"].missing] == [("LUG", UNIT, "each")]
    assert KitBox.objects.of(scene.site).get().place == box


def test_each_run_has_its_five_stages_and_says_what_it_waits_for(scene, lug, run):
    scene.run("CB-2", takeoff=False)
    scene.needs(run, lug, "enclosure", 6)
    RunEndFactory(run=run, seal="caulked")
    scene.stage(run, "seals", done=at(4, hour=8))
    rows = reconcile(scene.site, AS_OF).readiness

    assert [(row.run, row.stage, row.state) for row in rows[:5]] == [
        ("CB-1", "enclosure", "ready but for"),
        ("CB-1", "cables", "blocked by"),
        ("CB-1", "seals", "done"),
        ("CB-1", "terminations", "blocked by"),
        ("CB-1", "covers", "blocked by"),
    ]
    assert rows[2].not_before == at(5, hour=8)
    assert {row.blocked_by[0] for row in rows[5:]} == {"no takeoff"}


def test_cables_say_what_is_needed_cut_and_on_reels_by_a_plan(scene, run):
    for name, length in (("A1", 30_000), ("B1", 30_000), ("C1", 30_000)):
        ConductorFactory(run=run, name=name, cable=scene.cable, length=length)
    ReelFactory(site=scene.site, tag="R-1", cable=scene.cable, length=70_000)
    (cable,) = reconcile(scene.site, AS_OF).cables

    assert (cable.cable, cable.need, cable.cut, cable.open) == ("C500", 900_000_000, 0, 900_000_000)
    assert cable.on_reels == 700_000_000
    assert [(u.run, u.conductor, u.length) for u in cable.unmet] == [("CB-1", "C1", 300_000_000)]
    assert (cable.method, cable.proven, cable.buy) == ("cut plan worked out now", False, None)
    (row,) = [row for row in reconcile(scene.site, AS_OF).readiness if row.stage == "cables"]
    assert [(m.item, m.quantity) for m in row.missing] == [("C500", 300_000_000)]


def fill(scene, number):
    """Rows of every kind that a reconciliation reads, for one more item and one more run."""
    item, run = scene.item(f"I-{number}", usage="bead"), scene.run(f"CB-{number}")
    scene.needs(run, item, "terminations", 10)
    scene.stage(run, "terminations", planned=date(2026, 6, 1))
    kit = scene.promise(item, 10, run=run, name=f"KIT-{number}")
    Places(scene.site).box_of(kit)
    scene.receive(scene.ship(item, 8, f"S-{number}"), 8, lot="a", expires=date(2027, 1, 1))
    scene.order(item, 3, f"O-{number}")
    scene.hand_out(item, 2, run, "terminations", lot="a")
    scene.hand_out(item, 1, run, "terminations", lot="a", when=at(9))
    RunEndFactory(run=run, end="to", seal="caulked")
    cable = CableFactory(site=scene.site, code=f"C-{number}")
    conductor = ConductorFactory(run=run, cable=cable, length=1000)
    reel = ReelFactory(site=scene.site, tag=f"R-{number}", cable=cable, length=5000)
    plan = CutPlanFactory(site=scene.site, cable=cable, state="accepted")
    PlannedCutFactory(plan=plan, reel=reel, conductor=conductor, length=1000)


def test_the_number_of_queries_does_not_grow_with_the_rows(scene):
    fill(scene, 0)
    with CaptureQueriesContext(
        connection,
    ) as few:
        reconcile(scene.site, AS_OF)
    for number in range(1, 8):
        fill(scene, number)
    with CaptureQueriesContext(connection) as many:
        assert len(reconcile(scene.site, AS_OF).lines) == 8

    assert len(many) == len(few)


def test_an_accepted_substitute_covers_need_by_its_contents(scene, run):
    tube = scene.item("TUBE", contents=Decimal("10.1"), contents_unit="fl oz", accept="CARTRIDGE", refuse="latex")
    large = scene.item("CARTRIDGE", contents=28, contents_unit="fl oz")
    latex = scene.item("CAULK", contents=28, contents_unit="fl oz", grade="latex")
    scene.needs(run, tube, "seals", 10)
    for number, item in enumerate((large, latex)):
        scene.receive(scene.ship(item, 2, f"S-{number}"), 2)
    line = line_of(scene, "TUBE")

    # 2 x 28 / 10.1 fl oz
    assert (line.usable, line.short, line.order) == (55_445, 100_000 - 55_445, 50_000)
    assert [s.code for s in line.substitutes] == ["CARTRIDGE"]
    (row,) = [row for row in reconcile(scene.site, AS_OF).readiness if row.stage == "seals"]
    assert [(m.item, m.quantity) for m in row.missing] == [("TUBE", 100_000 - 55_445)]


def test_without_a_rule_book_what_a_planner_set_is_needed_and_the_rest_says_no_takeoff():
    run = RunFactory(cables_per_phase=1, phases=1)
    ConductorFactory(run=run, name="A1")
    lug = ItemFactory(site=run.site, code="LUG")
    refresh_takeoffs(site=run.site)
    overrule(run=run, item=lug, stage="terminations", quantity=Decimal(12), reason="drawing 7")
    found = reconcile(run.site, AS_OF)

    assert [(line.item.code, line.need) for line in found.lines] == [("LUG", 12 * UNIT)]
    assert {row.blocked_by[0] for row in found.readiness} == {"no takeoff"}


def test_a_free_replacement_is_told_apart_from_what_is_to_be_paid(scene, lug):
    paid = scene.order(lug, 5)
    OrderLineFactory(
        order__site=scene.site, order__name="O-2", order__state="sent", item=lug, quantity=3, kind="no charge"
    )
    line = line_of(scene)

    assert paid.lines.get().kind == "charge"
    assert (line.ordered, line.free) == (8 * UNIT, 3 * UNIT)

"""What is to be ordered of a cable, read from reels, plans, orders and shipments."""

import re
from datetime import date, timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kits.shortages.queries import cable_lines, reconcile
from kits.shortages.told.as_json import as_json
from kits.shortages.told.as_text import as_text
from reels.models import CutPlan
from reels.planner.options import Options
from reels.plans.services import ask_for_plan, run_plan
from tests.factories.kits import OrderFactory, OrderLineFactory
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import ConductorFactory, member
from tests.kits.shortages.scene import AS_OF, Scene

pytestmark = pytest.mark.django_db
FT = 3_048_000


def feet(length):
    return length * Decimal("304.8")


@pytest.fixture
def scene():
    """CB-1 in 40 days has a reel here, CB-2 in 60 days one on the way, CB-3 in 90 days none."""
    scene = Scene(whole_reels=True)
    cable = scene.cable
    cable.supplier, cable.unit_cost, cable.buy_lengths = scene.supplier, 1250, [500 * FT, 1000 * FT]
    cable.save()
    for name, days in (("CB-1", 40), ("CB-2", 60), ("CB-3", 90)):
        run = scene.run(name)
        scene.stage(run, "cables", planned=AS_OF + timedelta(days=days))
        for conductor in ("A1", "B1", "C1"):
            ConductorFactory(run=run, name=conductor, cable=cable, length=feet(100))
    for tag, state in (("R-1", "on site"), ("R-2", "on the way")):
        ReelFactory(site=scene.site, tag=tag, cable=cable, length=feet(300), state=state)
    return scene


def order(scene, *reels, name="PO-1", state="sent", expected=None, po=""):
    row = OrderFactory(site=scene.site, name=name, supplier=scene.supplier, state=state, po=po)
    for length, count in reels:
        line = {"cable": scene.cable, "reel_length": feet(length), "quantity": count, "expected": expected}
        OrderLineFactory(order=row, item=None, **line)
    return row


def line_of(scene):
    (line,) = cable_lines(scene.site, AS_OF)
    return line


def on_order(line):
    return [(one.order, one.length // FT, one.count) for one in line.on_order]


@pytest.mark.parametrize("stored", [False, True], ids=["worked out now", "stored"])
def test_the_day_is_that_of_the_first_run_that_nothing_here_or_on_the_way_serves(scene, stored):
    if stored:
        run_plan(plan=ask_for_plan(site=scene.site, cable=scene.cable, options=Options(seconds=2)))
        assert CutPlan.objects.of(scene.site).get().buy_for == ["CB-3"]
    line = line_of(scene)
    assert line.method == ("proposed cut plan" if stored else "cut plan worked out now")
    assert {one.run for one in line.unmet} == {"CB-2", "CB-3"}
    # 90 days on, less 3 days of buffer and the supplier's 10.
    assert (line.short_on, line.order_by) == (AS_OF + timedelta(days=90), AS_OF + timedelta(days=77))
    assert (line.order, line.cost) == (((500 * FT, 1),), 500 * 1250)
    cable = as_json(reconcile(scene.site, AS_OF))["cables"][0]
    assert (cable["short_on"], cable["order_by"]) == ("2026-08-02", "2026-07-20")
    assert (cable["order"], cable["on_order"]) == ([{"length": 152400, "count": 1}], [])


def test_reels_on_order_are_not_ordered_again(scene):
    order(scene, (500, 1), expected=date(2026, 6, 1))
    line = line_of(scene)
    assert (line.buy, line.order, line.order_by) == (((500 * FT, 1),), (), None)
    assert on_order(line) == [("PO-1", 500, 1)]
    assert line.on_order[0].on == date(2026, 6, 1)


@pytest.mark.parametrize("state", ["draft", "closed", "cancelled"])
def test_an_order_that_brings_nothing_more_is_not_counted_on(scene, state):
    order(scene, (500, 1), state=state)
    assert (line_of(scene).order, line_of(scene).on_order) == (((500 * FT, 1),), ())


@pytest.mark.parametrize("delivery", ["PO-1", "4500-7", "SH-9"], ids=["the order", "its number", "a shipment for it"])
@pytest.mark.parametrize("state", ["on the way", "on site"])
def test_a_reel_that_comes_against_an_order_closes_one(scene, delivery, state):
    row = order(scene, (500, 2), po="4500-7")
    scene.ship(scene.item(), 1, name="SH-9", order=row)
    reel = ReelFactory(site=scene.site, tag="R-9", cable=scene.cable, length=feet(512), state=state, delivery=delivery)
    line = line_of(scene)
    assert on_order(line) == [("PO-1", 500, 1)]
    # What comes off it later is no reel of the order.
    ReelFactory(
        site=scene.site, tag="R-9A", cable=scene.cable, length=feet(90), parent=reel, delivery=delivery, state="on site"
    )
    assert on_order(line_of(scene)) == [("PO-1", 500, 1)]


def test_a_reel_that_may_be_of_two_orders_closes_one_of_one(scene):
    first, second = order(scene, (500, 1)), order(scene, (500, 1), name="PO-2")
    for row in (first, second):
        scene.ship(scene.item(f"LUG-{row}"), 1, name="SH-9", order=row)
    ReelFactory(site=scene.site, tag="R-9", cable=scene.cable, length=feet(500), delivery="SH-9")
    assert on_order(line_of(scene)) == [("PO-2", 500, 1)]


def test_another_cable_or_another_delivery_closes_nothing(scene):
    order(scene, (500, 1))
    ReelFactory(site=scene.site, tag="R-8", cable=scene.cable, length=feet(500), delivery="SH-1")
    assert on_order(line_of(scene)) == [("PO-1", 500, 1)]


def test_any_number_of_orders_is_read_in_as_many_queries(scene, django_assert_num_queries):
    with CaptureQueriesContext(connection) as few:
        line_of(scene)
    for number in range(5):
        order(scene, (500, 1), (1000, 2), name=f"PO-{number}")
    with django_assert_num_queries(len(few)):
        line_of(scene)


def words(client, scene, role):
    user = member(scene.site, role, username=role)
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    answer = client.get(reverse("shortages", args=[scene.site.slug]))
    assert answer.status_code == 200
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


def test_shortages_names_the_cable_to_order_and_what_is_on_order(client, scene):
    order(scene, (1000, 1), name="PO-9", state="draft")
    told = words(client, scene, "purchaser")
    assert re.search(r"C500 order 1 × 500' 0\" from Supplier, 6 250\.00 USD for CB-3, short on \d", told)
    # The lead time of a supplier is known: the day to order is told.
    assert re.search(r"short on \d+ \w+ \d+ (order in \d+ days|order today|order tomorrow|overdue since)", told)
    assert "Supplier: workbook 1 cable" in told
    assert "PO-9" not in told, "nobody sent it"
    order(scene, (500, 1), expected=date(2027, 6, 1))
    assert "on order: 1 × 500' 0\" on PO-1, expected 1 Jun 2027" in words(client, scene, "planner")


def test_the_price_of_cable_shows_only_to_those_who_may_see_prices(client, scene):
    assert "order 1 × 500'" in (told := words(client, scene, "storekeeper"))
    assert "USD" not in told


def test_the_workbook_of_a_supplier_of_cable_alone_can_be_fetched(client, scene):
    words(client, scene, "purchaser")
    answer = client.get(reverse("reorder_workbook", args=[scene.site.slug, scene.supplier.pk]))
    assert answer.status_code == 200
    assert client.get(reverse("reorder_workbook", args=[scene.site.slug, 0])).status_code == 404


def test_the_terminal_names_the_day_to_order_cable(scene):
    def told():
        found = as_text(reconcile(scene.site, AS_OF), name="site", unit="ft", width=200)
        return " ".join("\n".join(found).split())

    assert "order 1 × 500' 0\" for CB-3, by 20 Jul 2026" in told()
    scene.cable.supplier = None
    scene.cable.save()
    assert "order 1 × 500' 0\" for CB-3, lead time not known" in told()
    order(scene, (500, 1))
    assert "on order: 1 × 500' 0\" on PO-1, no day given" in told()

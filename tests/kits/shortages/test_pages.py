"""The pages of shortages: what they say first, in which words, with which figures."""

import re
from datetime import date, timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.urls import reverse

from kits.stock.places import Places
from takeoff.models import Item
from tests.factories.kits import PackageFactory, PackingLineFactory
from tests.factories.takeoff import RunFactory, member
from tests.kits.makers import stocked
from tests.kits.shortages.scene import Scene, at

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return Scene(buffer_days=0, timezone="UTC")


@pytest.fixture
def read(client, scene):
    """Return the words of a page as a planner reads them."""
    user = member(scene.site, "planner", username="planner")
    client.force_login(user)

    def words(name: str, *args) -> str:
        answer = client.get(reverse(name, args=[scene.site.slug, *args]))
        assert answer.status_code == 200
        return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())

    return words


def in_days(scene, days: int) -> date:
    return scene.site.today() + timedelta(days=days)


def used(scene, item, quantity, run, stage):
    """Find a quantity at a count, and hand it out."""
    scene.move(item, quantity, Places(scene.site).lost_found(), scene.bin(), kind="count")
    scene.hand_out(item, quantity, run, stage)


def test_what_is_on_the_way_is_said_before_any_quantity_to_order(scene, read):
    lug, run = scene.item(pack=3), scene.run()
    scene.needs(run, lug, "terminations", 9)
    scene.stage(run, "terminations", planned=in_days(scene, 10))
    scene.ship(lug, 9, "SH-7", expected=in_days(scene, 15))

    page, listed = read("shortage", lug.pk), read("shortages")
    late = f"SH-7 comes 5 days after {in_days(scene, 10):%-d %b %Y}"

    advice = f"All of it is on the way, only too late: {late}. Expedite it, or move the work; "
    advice += "ordering again makes it too many."
    assert advice in page
    assert page.index(advice) < page.index("To order")
    assert "order by" not in page
    assert "1 expedite" in listed
    short = f"the LUG LUG, Supplier 9 from {in_days(scene, 10):%-d %b %Y}"
    assert f"{short} 9 all of it is on the way: {late} CB-1" in listed


def test_what_no_delivery_brings_is_to_be_ordered(scene, read):
    lug, run = scene.item(), scene.run()
    scene.needs(run, lug, "terminations", 9)
    scene.stage(run, "terminations", planned=in_days(scene, 10))
    scene.ship(lug, 8, "SH-7", expected=in_days(scene, 15))

    page = read("shortage", lug.pk)
    assert "8 of it on the way" in page
    assert "order by" in page
    assert "To order 1 " in page
    assert "To expedite 8 " in page


def test_an_order_without_a_day_counts_on_its_lead_time_and_then_has_no_answer(scene, read):
    lug, run = scene.item(), scene.run()
    scene.needs(run, lug, "terminations", 9)
    scene.stage(run, "terminations", planned=in_days(scene, 30))
    order = scene.order(lug, 9)
    order.lines.update(sent=in_days(scene, -2))

    assert "nobody said: the day it was sent and the lead time" in read("shortage", lug.pk)
    assert "Nothing is to order." in read("today")

    sent = in_days(scene, -40)
    order.lines.update(sent=sent)
    assert f"no answer since {sent:%-d %b %Y}, so not counted on" in read("shortage", lug.pk)
    today = read("today")
    assert f"9 to expedite O-1: no answer since {sent:%-d %b %Y}" in today
    assert "Nothing is to order." in today


def test_drafts_show_where_the_item_does_and_do_not_count(scene, read):
    lug, run = scene.item(), scene.run()
    scene.needs(run, lug, "terminations", 9)
    scene.stage(run, "terminations", planned=in_days(scene, 30))
    scene.order(lug, 4, "D-1", state="draft")

    assert "In drafts, not sent and not counted: D-1 4." in read("shortage", lug.pk)
    assert "order 9, in drafts D-1 4" in read("today")


def test_one_delivery_is_one_row_with_its_packages(scene, read):
    lug, run = scene.item(), scene.run()
    scene.needs(run, lug, "terminations", 100)
    first = scene.ship(lug, 10, "SH-7", expected=in_days(scene, 15))
    for name, quantity in (("Box 2", 20), ("Box 1", 30)):
        package = PackageFactory(shipment=first.shipment, name=name)
        PackingLineFactory(shipment=first.shipment, item=lug, quantity=quantity, package=package)

    page = read("shortage", lug.pk)
    assert f"Shipment SH-7 packages Box 1, Box 2 {in_days(scene, 15):%-d %b %Y} 60" in page
    assert page.count("Shipment SH-7") == 1


def test_the_reserve_is_the_sites_and_not_the_crews(scene, read):
    sealant = scene.item("SEALANT", usage="bead", unit="cartridge", pack=12)
    for name in ("CB-1", "CB-2"):
        done = scene.run(name)
        scene.needs(done, sealant, "seals", 10)
        scene.stage(done, "seals", done=at())
        used(scene, sealant, 10, done, "seals")
    ahead = scene.run("CB-3")
    scene.needs(ahead, sealant, "seals", 10)

    page = read("shortage", sealant.pk)
    use = "More by what finished stages used"
    reserve = re.escape("Spare (enough 19 times in 20)")
    assert "Spare (enough 19 times in 20)" in page
    assert "the crews' use" not in page, "the crews used what was planned; the rest is usual for such goods"
    told = re.search(rf"Short ([\d.]+) cartridges\b.*{reserve} \+([\d.]+) {use} \+([\d.]+) .*Short ([\d.]+)", page)
    assert told
    short, kept, more, foot = (Decimal(figure) for figure in told.groups())
    assert short == foot == 10 + more + kept, "10 are needed beyond what was used"


def test_only_finished_stages_stand_under_what_finished_stages_used(scene, read):
    sealant = scene.item("SEALANT", usage="bead", unit="cartridge")
    done, unplanned, still_open = scene.run("CB-1"), scene.run("CB-2"), scene.run("CB-3")
    for run in (done, still_open):
        scene.needs(run, sealant, "seals", 2)
    for run in (done, unplanned):
        scene.stage(run, "seals", done=at())
        used(scene, sealant, 3, run, "seals")
    used(scene, sealant, 4, still_open, "covers")

    page = read("shortage", sealant.pk)
    finished, handed_out = page.split("What finished stages really used")[1].split("Handed out without a plan")
    assert "CB-1, seals 2 3 CB-2, seals used without a plan: not learned from 0 3" in finished
    assert "CB-3" not in finished
    assert "CB-3, covers: 4 cartridges" in handed_out
    assert "of plan, from 1 finished stage and what is usual for such goods." in finished
    assert "…" not in finished


def test_what_is_due_later_is_not_headed_now(scene, read):
    lug, run = scene.item(), scene.run()
    scene.needs(run, lug, "terminations", 9)
    scene.stage(run, "terminations", planned=in_days(scene, 90))

    listed = read("shortages")
    assert "1 later" in listed
    assert "order now" not in listed
    assert "Later 1 item" in listed


def test_today_says_what_is_on_the_way_and_counts_in_the_plural(scene, read):
    tape, run = scene.item("TAPE", unit="roll"), scene.run()
    scene.needs(run, tape, "cables", 9)
    scene.stage(run, "cables", planned=in_days(scene, 10))
    scene.ship(tape, 9, "SH-7", expected=in_days(scene, 15))

    late = f"SH-7 comes 5 days after {in_days(scene, 10):%-d %b %Y}"
    assert f"the TAPE 9 rolls to expedite {late}" in read("today")
    assert "Nothing is to order." in read("today")
    assert f"Cables on {in_days(scene, 10):%-d %b} lack 9 rolls the TAPE; they come" in read("run", run.pk)


def test_today_begins_with_figures_and_a_half_counted_delivery_is_not_late(scene, read):
    lug, tape, run = scene.item(), scene.item("TAPE"), scene.run()
    for item in (lug, tape):
        scene.needs(run, item, "cables", 9)
    assert read("today").split("Deliveries to come")[0].count("late") == 1, (
        "Nothing is overdue, late or short of cable."
    )
    first = scene.ship(lug, 9, "SH-7", expected=in_days(scene, -3))
    scene.ship(tape, 9, "SH-7", expected=in_days(scene, -3))
    assert "1 delivery late" in read("today")
    assert "Shipment SH-7 late 2 items to count" in read("today")
    scene.receive(first, 9)
    assert "1 truck here to count" in read("today")
    assert "Shipment SH-7 here, not all counted 1 item still to count the TAPE" in read("today")
    assert "late" not in read("today").partition("Deliveries to come")[2]
    assert "here, not all counted" in read("shortage", tape.pk)


def test_of_what_is_made_for_runs_the_page_tells_and_draws_the_run_that_lacks_it(site, enter):
    cap = Item.objects.get(code="CAP")
    cap.for_run = True
    cap.save()
    RunFactory(site=site, name="CB-2")
    stocked(cap, 500, lot="CB-2")
    page = enter("planner").get(f"/{site.slug}/shortages/items/{cap.pk}/").content.decode()
    assert "Over time, CB-1</h2>" in page
    assert "Made for other runs" in page
    row = page.split("What each run lacks")[1].split("</table>")[0]
    assert re.findall(r'data-label="Run">([^<]*)<', row) == ["CB-1"]
    assert re.search(r'data-label="Here" class="number">0<', row)

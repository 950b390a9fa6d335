"""Closing a site and a run: what is left, what was used against plan, what is still open; its page and its workbook."""

import io
import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from kits.closing.queries import items_left, reels_left
from kits.stock.places import Places
from takeoff.models import Site, Supplier, UsagePrior
from tests.factories.kits import KitFactory, OrderFactory, OrderLineFactory
from tests.factories.reels import CutFactory, ReelFactory
from tests.factories.takeoff import ConductorFactory, member
from tests.kits.shortages.scene import Scene

pytestmark = pytest.mark.django_db
TODAY = datetime.now(tz=UTC).date()
BEFORE = datetime.now(tz=UTC) - timedelta(days=20)


@pytest.fixture
def scene() -> Scene:
    return Scene(slug="here", name="Here")


@pytest.fixture
def enter(client, scene):
    people = {role: member(scene.site, role, username=role) for role in ("planner", "purchaser", "foreman", "viewer")}

    def signed_in(role):
        client.force_login(people[role])
        return client

    return signed_in


def text_of(answer) -> str:
    assert answer.status_code == 200
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", answer.content.decode())))


def stock(scene, item, quantity, **more):
    return scene.receive(scene.ship(item, quantity, name=f"S-{item.code}-{quantity}"), quantity, when=BEFORE, **more)


def left(scene, run=None):
    found = items_left(scene.site, TODAY, run).surplus
    return {row.item.code: (row.quantity // 10_000, row.worth, row.takes_back) for row in found}


def test_open_stages_keep_what_they_need_and_the_rest_is_left(scene):
    Supplier.objects.of(scene.site).update(takes_back="full packs within 90 days")
    lug = scene.item("LUG", unit_cost=150)
    run = scene.run()
    scene.needs(run, lug, "terminations", 8)
    scene.stage(run, "terminations")
    stock(scene, lug, 20)
    assert left(scene) == {"LUG": (12, 1800, "full packs within 90 days")}

    scene.hand_out(lug, 8, run, "terminations", when=BEFORE)
    assert left(scene) == {"LUG": (12, 1800, "full packs within 90 days")}  # handed out is no longer kept for it


def test_a_lot_past_its_last_day_is_left_and_worth_nothing(scene):
    seal = scene.item("SEAL", unit_cost=900)
    stock(scene, seal, 5, lot="L1", expires=TODAY - timedelta(days=1))
    stock(scene, seal, 2, lot="L2", expires=TODAY)
    assert left(scene) == {"SEAL": (7, 1800, "")}


def test_what_an_item_lacks_its_substitute_keeps_for_it(scene):
    seal = scene.item("SEAL", unit="cartridge", grade="butyl", accept="flashing", contents=10, contents_unit="fl oz")
    other = scene.item("BIG", unit="cartridge", grade="flashing", contents=20, contents_unit="fl oz", unit_cost=100)
    run = scene.run()
    scene.needs(run, seal, "seals", 9)
    stock(scene, seal, 2)
    stock(scene, other, 10)
    assert left(scene) == {"BIG": (6, 600, "")}  # 7 of 10 fl oz are 3.5 of 20: four are kept

    scene.hand_out(other, 1, run, "seals", when=BEFORE)
    scene.stage(run, "seals", done=BEFORE)
    used = [(use.item.code, use.planned, use.used) for use in items_left(scene.site, TODAY).uses]
    assert used == [("SEAL", 90_000, 20_000)]


def test_a_run_is_left_its_boxes_and_what_was_made_for_it(scene):
    plate, lug = scene.item("PLATE", for_run=True), scene.item("LUG")
    one, two = scene.run("CB-1"), scene.run("CB-2")
    scene.needs(two, plate, "seals", 1)
    box = Places(scene.site).box_of(KitFactory(site=scene.site, name="K1", run=one))
    stock(scene, lug, 9)
    scene.move(lug, 4, scene.bin(), box, when=BEFORE)
    stock(scene, plate, 2, lot="CB-1")
    stock(scene, plate, 3, lot="CB-1, CB-2")
    stock(scene, plate, 1, lot="CB-2")

    assert {code: found[0] for code, found in left(scene, one).items()} == {"LUG": 4, "PLATE": 4}
    assert {code: found[0] for code, found in left(scene).items()} == {"LUG": 9, "PLATE": 5}


def finished(scene, item, planned, used, name, crew="", stage="cables"):
    run = scene.run(name, crew=crew)
    scene.needs(run, item, stage, planned)
    stock(scene, item, used)
    scene.hand_out(item, used, run, stage, when=BEFORE)
    scene.stage(run, stage, done=BEFORE)
    return run


def test_crews_are_told_only_to_planners_and_only_where_the_site_says_so(enter, scene):
    finished(scene, scene.item("TAPE"), 4, 5, "CB-1", crew="Crew Q")
    url = reverse("close_out", args=["here"])
    assert "Crew Q" not in text_of(enter("planner").get(url))
    Site.objects.filter(pk=scene.site.pk).update(use_by_crew=True)
    assert "Crew Q" in text_of(enter("planner").get(url))
    for role in ("purchaser", "foreman", "viewer"):
        assert "Crew Q" not in text_of(enter(role).get(url))
    book = load_workbook(io.BytesIO(enter("purchaser").get(reverse("close_out_workbook", args=["here"])).content))
    assert "Crew Q" not in str([list(sheet.values) for sheet in book])


def test_money_is_told_only_to_who_may_see_prices(enter, scene):
    finished(scene, scene.item("TAPE", unit_cost=777), 4, 5, "CB-1")
    stock(scene, scene.item("LUG", unit_cost=777), 3)
    pages = [reverse("close_out", args=["here"]), reverse("close_run", args=["here", scene.site.runs.get().pk])]
    assert "worth 23.31 USD" in text_of(enter("purchaser").get(pages[0]))
    for url in pages:
        assert "USD" not in text_of(enter("viewer").get(url))
    for role, tells in (("purchaser", True), ("viewer", False)):
        answer = enter(role).get(reverse("close_out_workbook", args=["here"]))
        told = str([list(sheet.values) for sheet in load_workbook(io.BytesIO(answer.content))])
        assert ("7.77" in told) is tells
        assert ("Worth" in told) is tells


def test_reels_are_told_by_what_becomes_of_them_and_remnants_by_their_length(enter, scene):
    cable = scene.cable
    for tag, feet, state in (
        ("E1", 100, "empty"),
        ("R1", 100, "returned"),
        ("W1", 500, "on site"),
        ("T1", 9, "on the way"),
    ):
        ReelFactory(site=scene.site, cable=cable, tag=tag, feet=feet, state=state)
    parent = ReelFactory(site=scene.site, cable=cable, tag="P1", feet=900, state="empty")
    for tag, feet in (("P1-1", 84), ("P1-2", 84), ("P1-3", 40), ("P1-4", 12)):
        ReelFactory(site=scene.site, cable=cable, tag=tag, feet=feet, parent=parent)

    found = [(what, [entry.reel.tag for entry in entries]) for what, entries in reels_left(scene.site).groups]
    assert found == [
        ("empty, to send back", ["E1", "P1"]),
        ("whole, nothing cut off", ["W1"]),
        ("still on the way", ["T1"]),
        ("worth keeping", ["P1-1", "P1-2", "P1-3"]),
        ("too short to keep", ["P1-4"]),
        ("sent back", ["R1"]),
    ]
    text = text_of(enter("viewer").get(reverse("close_out", args=["here"])))
    assert "2 empty reels to send back." in text
    assert re.search(r"2 × 84' 0\" of C500 P1-1, P1-2 ?1 × 40' 0\" of C500 P1-3", text)
    assert "Deposits Not written down" in text
    cable.unit_cost = 500
    cable.save()
    assert "1 reel of C500, 500' 0\" in all, worth 2 500.00 USD W1 500' 0\"" in text_of(
        enter("purchaser").get(reverse("close_out", args=["here"]))
    )


def test_a_run_is_told_the_reels_that_it_was_cut_from_and_the_pieces_off_them(scene):
    run, other = scene.run("CB-1"), scene.run("CB-2")
    mine = ReelFactory(site=scene.site, cable=scene.cable, tag="M1", feet=400)
    theirs = ReelFactory(site=scene.site, cable=scene.cable, tag="T1", feet=400)
    for reel, of in ((mine, run), (theirs, other)):
        conductor = ConductorFactory(run=of, cable=scene.cable, name="A1")
        CutFactory(reel=reel, conductor=conductor, length=Decimal(30480), taped=True)
        ReelFactory(site=scene.site, cable=scene.cable, tag=f"{reel.tag}-1", feet=50, parent=reel)
    tags = [entry.reel.tag for _, entries in reels_left(scene.site, run).groups for entry in entries]
    assert tags == ["M1", "M1-1"]


def test_what_is_open_is_told_until_it_has_its_end(enter, scene):
    url = reverse("close_out", args=["here"])
    assert "Nothing is still open." in text_of(enter("viewer").get(url))

    lug = scene.item("LUG")
    for name, state in (("O-sent", "sent"), ("O-closed", "closed"), ("O-cancelled", "cancelled")):
        OrderLineFactory(order=OrderFactory(site=scene.site, name=name, state=state), item=lug, quantity=5)
    run = scene.run("CB-9")
    scene.needs(run, lug, "covers", 4)
    scene.stage(run, "covers", done=BEFORE)
    scene.receive(scene.ship(lug, 3), 3, good=2, when=BEFORE)

    text = text_of(enter("viewer").get(url))
    assert "1 order still open." in text
    assert "O-sent" in text
    assert "O-closed" not in text
    assert "O-cancelled" not in text
    assert "CB-9, covers: done, and nobody said what it used of 1 item" in text
    assert "1 item on hold" in text
    mine = text_of(enter("viewer").get(reverse("close_run", args=["here", run.pk])))
    assert "O-sent" not in mine
    assert "CB-9, covers: done" in mine


def learned(scene):
    """Three items counted out, two finished stages each."""
    for code, uses in (("A", (11, 12)), ("B", (14, 13)), ("C", (9, 10))):
        item = scene.item(code, usage="counted")
        for n, used in enumerate(uses):
            finished(scene, item, 10, used, f"CB-{code}{n}")


def prior_form(answer) -> dict[str, str]:
    tags = re.findall(r'<input[^>]*name="(usage|seen)"[^>]*value="([^"]*)"', answer.content.decode(), re.DOTALL)
    return {name: unescape(value) for name, value in tags}


def test_a_planner_takes_over_what_the_site_says_and_only_what_was_seen(enter, scene):
    learned(scene)
    page, take = reverse("close_out", args=["here"]), reverse("take_over_prior", args=["here"])
    assert "Too little to say" in text_of(enter("planner").get(page))  # of the other classes
    form = prior_form(enter("planner").get(page))
    assert form["usage"] == "counted"
    assert prior_form(enter("purchaser").get(page)) == {}
    assert not UsagePrior.objects.of(scene.site).exists()

    finished(scene, scene.site.items.get(code="A"), 10, 30, "CB-late")
    answer = enter("planner").post(take, form, follow=True)
    assert "has changed since: look at the new figures first" in text_of(answer)
    assert not UsagePrior.objects.of(scene.site).exists()

    answer = enter("planner").post(take, prior_form(enter("planner").get(page)), follow=True)
    assert "The next takeoff counts with these figures for counted." in text_of(answer)
    row = UsagePrior.objects.of(scene.site).get()
    assert (row.usage, row.item, row.rate) == (
        "counted",
        None,
        Decimal("1.3556"),
    )  # the mean of 53/30, 27/20, 19/20
    assert "set for this site" in text_of(enter("viewer").get(page))
    assert prior_form(enter("planner").get(page)) == {}  # nothing else to take over


def test_what_nobody_offered_is_not_taken_over(enter, scene):
    take = reverse("take_over_prior", args=["here"])
    for usage in ("bead", "fixed", ""):
        answer = enter("planner").post(take, {"usage": usage, "seen": "1 1 1 1"}, follow=True)
        assert "has changed since" in text_of(answer)
    assert enter("purchaser").post(take, {"usage": "bead", "seen": ""}).status_code == 403
    assert not UsagePrior.objects.of(scene.site).exists()


def test_text_of_a_workbook_is_never_a_formula_and_its_sums_are(enter, scene):
    Supplier.objects.of(scene.site).update(takes_back="=cmd", name="@who")
    item = scene.item("=1+1", description="+evil", unit_cost=100)
    finished(scene, item, 4, 5, "-CB")
    stock(scene, item, 3, lot="=L")
    order = OrderFactory(site=scene.site, name="=order", supplier=scene.supplier)
    OrderLineFactory(order=order, item=item, quantity=1)
    answer = enter("purchaser").get(reverse("close_out_workbook", args=["here"]))
    assert answer["Content-Disposition"] == f'attachment; filename="close-out-here-{TODAY.isoformat()}.xlsx"'
    book = load_workbook(io.BytesIO(answer.content))
    assert book.sheetnames == ["Left over", "Reels", "Use", "Use by run", "Still open"]
    formulas = {cell.value for sheet in book for row in sheet.iter_rows() for cell in row if cell.data_type == "f"}
    assert formulas == {"=F6-E6", "=SUM(H6:H6)", "=SUM(E6:E5)", "=SUM(J6:J6)"}
    told = str([list(sheet.values) for sheet in book])
    for text in ("=1+1", "+evil", "=cmd", "@who", "=L", "-CB", "=order"):
        assert f"'{text}" in told

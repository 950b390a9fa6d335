"""Labels chosen, laid out, read again, and where they lead."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kits.labels import labelled
from takeoff.people.permissions import STORE
from tests.factories.kits import PackageFactory, ShipmentFactory
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import ItemFactory, PlaceFactory, SiteFactory
from tests.kits.labels.drawn import labels_in

pytestmark = pytest.mark.django_db
SINGLE, SHEET = {"paper": "lying", "first": "1"}, {"paper": "letter", "first": "1"}


@pytest.fixture
def things(site):
    """One of each kind, by its letter."""
    shipment = ShipmentFactory(site=site, name="SH-5021", supplier__name="Tin & Sons")
    return {
        "p": PackageFactory(shipment=shipment, name="Crate <2>"),
        "b": PlaceFactory(site=site, name="Étagère 4"),
        "i": ItemFactory(site=site, code="LUG-350", description="Lug, two holes"),
        "r": ReelFactory(site=site, tag="R-571", feet=1000, cable__code="C500"),
    }


def printed(client, kind: str, slug: str = "here", **more) -> list:
    answer = client.get(reverse("labels_printed", args=[slug]), {"kind": kind, **SINGLE, **more})
    assert answer.status_code == 200, answer.content.decode()
    return labels_in(answer.content.decode())


@pytest.mark.parametrize(
    ("kind", "tag"), [("p", "SH-5021 Crate &lt;2&gt;"), ("b", "Étagère 4"), ("i", "LUG-350"), ("r", "R-571")]
)
@pytest.mark.parametrize("paper", ["letter", "a4", "lying", "standing"])
def test_a_label_shows_its_address_and_a_tag_for_two_metres(enter, things, kind, tag, paper):
    [label] = printed(enter("storekeeper"), kind, thing=things[kind].pk, paper=paper)
    assert label.address == f"http://testserver/here/t/{kind}{things[kind].pk}/"
    assert label.tag.replace("- ", "-") == tag
    assert label.capital >= 12


def test_what_is_ticked_is_printed_else_all_that_was_found(enter, site):
    client = enter("storekeeper")
    bins = [PlaceFactory(site=site, name=name) for name in ("Shelf 1", "Shelf 2", "Yard")]
    PlaceFactory(name="Shelf of another site")
    assert [label.tag for label in printed(client, "b", q="shelf")] == ["Shelf 1", "Shelf 2"]
    assert [label.tag for label in printed(client, "b", thing=[bins[0].pk, bins[2].pk])] == ["Shelf 1", "Yard"]


def test_a_sheet_begins_at_the_first_free_label(enter, site):
    client = enter("storekeeper")
    for number in range(9):
        PlaceFactory(site=site, name=f"Shelf {number}")
    answer = client.get("/here/labels/printed/", {"kind": "b", **SHEET, "first": "4"})
    sizes = [[bool(place) for place in page] for page in answer.context["pages"]]
    assert sizes == [[False] * 3 + [True] * 7, [True] * 2]
    single = client.get("/here/labels/printed/", {"kind": "b", **SINGLE, "first": "4"})
    assert [len(page) for page in single.context["pages"]] == [1] * 9


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"kind": "x"}, "Select a valid choice"),
        ({"paper": "wall"}, "Select a valid choice"),
        ({"first": "11"}, "less than or equal to 10"),
        ({"first": "0"}, "greater than or equal to 1"),
        ({"first": "one"}, "Enter a whole number"),
        ({"q": "no such bin"}, "Nothing is called so."),
        ({"q": "a\0b"}, "Null characters are not allowed."),
        ({"thing": "²"}, None),
        ({"thing": "9" * 30}, None),
    ],
)
def test_what_cannot_be_laid_out_is_asked_again(enter, things, asked, said):
    answer = enter("storekeeper").get("/here/labels/printed/", {"kind": "b", **SHEET, **asked})
    assert answer.status_code == (422 if said else 200)
    assert (said or "1 label") in answer.content.decode()


def test_too_many_at_once_are_refused(enter, things, monkeypatch):
    monkeypatch.setattr("kits.labels.views.MOST_PRINTED", 1)
    ItemFactory(site=things["i"].site, code="LUG-500")
    answer = enter("storekeeper").get("/here/labels/printed/", {"kind": "i", "q": "LUG", **SHEET})
    assert answer.status_code == 422
    assert "At most 1 labels at once." in answer.content.decode()


def test_the_list_keeps_what_was_ticked_and_says_how_many_there_are(enter, things, monkeypatch):
    client = enter("storekeeper")
    page = client.get("/here/labels/", {"kind": "i", "thing": things["i"].pk}).content.decode()
    assert f'value="{things["i"].pk}" checked' in page
    assert "Lug, two holes" in page
    assert page.count(" checked") == 1
    monkeypatch.setattr("kits.labels.views.MOST_LISTED", 1)
    assert "The first 1 are listed." in client.get("/here/labels/?kind=i").content.decode()
    assert "Nothing is called so." in client.get("/here/labels/?kind=i&q=zzz").content.decode()
    assert client.get("/here/labels/?kind=zz").status_code == 422


def test_lists_and_labels_ask_as_often_for_300_as_for_10(enter, site):
    client, counted = enter("storekeeper"), []
    for rows in (10, 290):
        PackageFactory.create_batch(rows, shipment__site=site)
        ReelFactory.create_batch(rows, site=site, feet=10)
        PlaceFactory.create_batch(rows, site=site)
        ItemFactory.create_batch(rows, site=site)
        asked = {}
        for kind in labelled.KINDS:
            for page in ("labels", "labels_printed"):
                with CaptureQueriesContext(connection) as seen:
                    answer = client.get(reverse(page, args=["here"]), {"kind": kind, **SHEET})
                assert answer.status_code == 200
                asked[kind, page] = len(seen)
        counted.append(asked)
    assert answer.context["count"] >= 300
    assert counted[0] == counted[1]


def test_an_address_leads_to_the_page_of_what_it_hangs_on(enter, things):
    client = enter("viewer")
    leads = {kind: client.get(f"/here/t/{kind}{thing.pk}/")["Location"] for kind, thing in things.items()}
    assert leads == {
        "p": f"/here/receiving/{things['p'].shipment_id}/crates/{things['p'].pk}/",
        "b": f"/here/stock/places/{things['b'].pk}/",
        "i": f"/here/stock/items/{things['i'].pk}/",
        "r": f"/here/reels/{things['r'].pk}/",
    }
    for address in leads.values():
        assert client.get(address).status_code == 200


def test_who_may_not_see_a_page_is_led_to_what_the_label_says(enter, things, monkeypatch):
    monkeypatch.setattr(labelled, "_permission_of", lambda kind: STORE)
    address = f"/here/t/r{things['r'].pk}/"
    assert enter("viewer").get(address)["Location"] == f"/here/labels/r{things['r'].pk}/"
    assert enter("storekeeper").get(address)["Location"] == f"/here/reels/{things['r'].pk}/"


def test_what_a_label_says_stands_on_its_page(enter, things):
    client = enter("viewer")
    page = client.get(f"/here/labels/r{things['r'].pk}/").content.decode()
    for word in ("R-571", "Reel of Here", "C500", "1 000&#x27; 0&quot;", "On site"):
        assert word in page.replace("\u202f", " ").replace("\xa0", " "), word
    assert "Print its label" not in page
    page = enter("storekeeper").get(f"/here/labels/p{things['p'].pk}/").content.decode()
    assert "Tin &amp; Sons" in page
    assert "Print its label" in page


@pytest.mark.parametrize("code", ["x1", "p", "1", "p0", "p999999999999999999", "p9999999999999999999", "P1", "r-1"])
def test_what_is_no_label_is_not_found(enter, things, code):
    client = enter("viewer")
    assert client.get(f"/here/t/{code}/").status_code == 404
    assert client.get(f"/here/labels/{code}/").status_code == 404


def test_a_label_of_another_site_is_not_found(enter, things):
    client = enter("storekeeper")
    other = ReelFactory(site=SiteFactory(slug="there"), tag="R-900", feet=10)
    for address in (
        f"/here/t/r{other.pk}/",
        f"/here/labels/r{other.pk}/",
        "/here/labels/find/?q=R-900",
        f"/here/labels/find/?q=http://testserver/there/t/r{other.pk}/",
        f"/there/t/r{other.pk}/",
    ):
        assert client.get(address).status_code == 404, address


@pytest.mark.parametrize(
    ("typed", "kind"),
    [
        ("R-571", "r"),
        (" r-571 ", "r"),
        ("SH-5021  Crate <2>", "p"),
        ("ÉTAGE\u0300RE 4", "b"),
        ("lug-350", "i"),
        ("https://another-name.example/here/t/r{r}/", "r"),
        ("http://testserver/here/t/b{b}", "b"),
    ],
)
def test_one_field_takes_an_address_or_a_tag(enter, things, typed, kind):
    client = enter("foreman")
    typed = typed.format(**{letter: thing.pk for letter, thing in things.items()})
    answer = client.get("/here/labels/find/", {"q": typed})
    assert answer.status_code == 302
    assert answer["Location"] == client.get(f"/here/t/{kind}{things[kind].pk}/")["Location"]


def test_a_tag_of_two_things_is_asked_about(enter, things):
    PlaceFactory(site=things["i"].site, name="lug-350")
    answer = enter("foreman").get("/here/labels/find/?q=LUG-350")
    assert answer.status_code == 200
    assert [thing.kind.name for thing, _ in answer.context["found"]] == ["Bin", "Item"]


def test_the_field_says_what_it_takes_and_what_was_not_found(enter, things):
    client = enter("viewer")
    assert "Scan the code" in client.get("/here/labels/find/").content.decode()
    assert client.get("/here/labels/find/?q=").status_code == 422
    assert client.get("/here/labels/find/?q=a%00b").status_code == 422
    answer = client.get("/here/labels/find/", {"q": "<b>nobody"})
    assert answer.status_code == 404
    assert "says “&lt;b&gt;nobody”" in answer.content.decode()


def test_of_a_package_whose_sender_nobody_knows_no_sender_is_said(enter, site):
    package = PackageFactory(shipment=ShipmentFactory(site=site, name="Evening truck", supplier=None), name="Crate 1")
    page = enter("storekeeper").get(reverse("label", args=["here", f"p{package.pk}"])).content.decode()
    assert "Evening truck" in page
    assert "None" not in page

"""Every list asks the database as often for a thousand rows as for ten."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kits.models import Balance, KitLine, Lot, Move
from takeoff.models import (
    Conductor,
    Item,
    Measurement,
    Member,
    Offer,
    Place,
    Rule,
    Run,
    Section,
    Site,
    Stage,
    Takeoff,
    TakeoffLine,
    User,
)
from tests.factories.kits import KitFactory, PackingLineFactory, PostingFactory, ShipmentFactory
from tests.factories.takeoff import (
    CableFactory,
    MemberFactory,
    PlaceFactory,
    RuleBookFactory,
    SiteFactory,
    SupplierFactory,
)

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 4, 12, tzinfo=UTC)


def crowd(site: Site, rows: int) -> None:
    """Rows of everything that a list shows, `rows` of each."""
    supplier = SupplierFactory(site=site, name="S")
    cable = CableFactory(site=site, code="C", diameter=25)
    book = RuleBookFactory(site=site, published_at=NOW)
    far = PlaceFactory(site=site, kind="supplier", name="S")
    items = Item.objects.bulk_create(
        Item(site=site, code=f"I{n:04}", description="part", group=f"g{n % 7}", supplier=supplier, unit_cost=100)
        for n in range(rows)
    )
    Offer.objects.bulk_create(Offer(item=item, supplier=supplier, offered=NOW.date(), price=100) for item in items)
    rules = (("each", "conductor end"), ("each", "run"))
    Rule.objects.bulk_create(
        Rule(
            book=book, seq=n, name=f"r{n}", item=item, stage="cables", counted_on=rules[n % 2][1], measure="each",
            amount=1, source="common practice",
        )
        for n, item in enumerate(items, start=1)
    )  # fmt: skip
    runs = Run.objects.bulk_create(
        Run(
            site=site, name=f"R{n:04}", from_equipment="A", to_equipment="B", tiers=1, phases=3, cables_per_phase=1,
            cable=cable, voltage_class="LV", ground_cables=0,
        )
        for n in range(rows)
    )  # fmt: skip
    Section.objects.bulk_create(Section(run=run, seq=1, kind="straight", length=3048) for run in runs)
    Conductor.objects.bulk_create(
        Conductor(run=run, name=name, cable=cable, length=5000) for run in runs for name in ("A1", "B1", "C1")
    )
    Stage.objects.bulk_create(Stage(run=run, stage="cables", planned=NOW.date() + timedelta(days=9)) for run in runs)
    Measurement.objects.bulk_create(Measurement(run=run, length=3050, at=NOW) for run in runs)
    takeoffs = Takeoff.objects.bulk_create(
        Takeoff(run=run, book=book, inputs_hash="x", computed_at=NOW) for run in runs
    )
    lines = [(takeoffs[n], items[n]) for n in range(rows)] + [(takeoffs[0], item) for item in items[1:]]
    TakeoffLine.objects.bulk_create(
        TakeoffLine(
            takeoff=takeoff, item=item, stage="cables", exact=Fraction(5), exact_drawn=Fraction(5), computed=5,
            quantity=5, drawn=5,
        )
        for takeoff, item in lines
    )  # fmt: skip
    bins = Place.objects.bulk_create(Place(site=site, kind="bin", name=f"B{n:04}") for n in range(rows))
    Lot.objects.bulk_create(Lot(item=item, code="L", expires=NOW.date()) for item in items)
    posting = PostingFactory(site=site, event_id="p", kind="receipt", at=NOW, recorded_at=NOW)
    moves = [(items[0], bins[n]) for n in range(rows)] + [(items[n], bins[0]) for n in range(1, rows)]
    Move.objects.bulk_create(
        Move(posting=posting, item=item, lot="L", source=far, target=place, quantity=2) for item, place in moves
    )
    Balance.objects.bulk_create(Balance(place=place, item=item, lot="L", quantity=2) for item, place in moves)
    totals = {item: sum(2 for one, _ in moves if one is item) for item in (items[0],)}
    Balance.objects.bulk_create(
        Balance(place=far, item=item, lot="L", quantity=-totals.get(item, 2), may_be_negative=True) for item in items
    )
    kit = KitFactory(site=site, name="K", run=runs[0])
    KitLine.objects.bulk_create(KitLine(kit=kit, item=item, quantity=1) for item in items)
    for n in range(min(rows, 40)):
        shipment = ShipmentFactory(site=site, name=f"S{n}", supplier=supplier, expected=NOW.date())
        PackingLineFactory(shipment=shipment, item=items[n])
    people = User.objects.bulk_create(User(username=f"{site.slug}-{n}") for n in range(rows))
    Member.objects.bulk_create(Member(site=site, user=user, role="viewer") for user in people)


@pytest.fixture
def sites():
    """A site with ten rows of everything, and one with a thousand."""
    found = []
    for slug, rows in (("few", 10), ("many", 1000)):
        site = SiteFactory(slug=slug)
        crowd(site, rows)
        MemberFactory(site=site, user=User.objects.get_or_create(username="planner")[0])
        found.append(site)
    return found


def queries(client: Client, url: str) -> list[str]:
    with CaptureQueriesContext(
        connection,
    ) as seen:
        answer = client.get(url)
    assert answer.status_code == 200, url
    return [each["sql"] for each in seen]


def addresses(site: Site) -> dict[str, str]:
    run = Run.objects.of(site).get(name="R0000")
    item = Item.objects.of(site).get(code="I0000")
    place = Place.objects.of(site).get(name="B0000")
    line = TakeoffLine.objects.of(site).filter(takeoff__run=run).first()
    return {
        "today": reverse("today", args=[site.slug]),
        "runs": reverse("runs", args=[site.slug]),
        "runs, sorted and filtered": reverse("runs", args=[site.slug]) + "?sort=-drawn&open_stage=cables&q=R",
        "run": reverse("run", args=[site.slug, run.pk]),
        "pull": reverse("pull", args=[site.slug]),
        "pull run": reverse("pull_run", args=[site.slug, run.pk]),
        "takeoff line": reverse("takeoff_line", args=[site.slug, run.pk, line.pk]),
        "stock": reverse("stock", args=[site.slug]) + "?here=on&sort=-usable",
        "item": reverse("stock_item", args=[site.slug, item.pk]),
        "places": reverse("stock_places", args=[site.slug]),
        "place": reverse("stock_place", args=[site.slug, place.pk]),
        "shortages": reverse("shortages", args=[site.slug]) + "?everything=on",
        "shortage": reverse("shortage", args=[site.slug, item.pk]),
        "letter to a supplier": reverse("supplier_letter", args=[site.slug, item.supplier_id]),
        "offers": reverse("offers", args=[site.slug]),
        "close-out": reverse("close_out", args=[site.slug]),
        "close-out of a run": reverse("close_run", args=[site.slug, run.pk]),
        "rules": reverse("rules", args=[site.slug]),
        "members": reverse("members", args=[site.slug]),
        "load": reverse("load_sheets", args=[site.slug]),
    }


def test_pages_ask_as_often_for_a_thousand_rows_as_for_ten(client, sites):
    client.force_login(User.objects.get(username="planner"))
    few, many = ({name: queries(client, url) for name, url in addresses(site).items()} for site in sites)
    more = {name: (len(few[name]), len(many[name])) for name in few if len(few[name]) != len(many[name])}
    assert more == {}
    assert {name: len(asked) for name, asked in many.items() if len(asked) > 84} == {}, "constant, and not absurd"

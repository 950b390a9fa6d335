"""One day of the store at the demo site, as two phones without signal and the pages of the office do it."""

import json
from datetime import datetime, time, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from kits.audit.proofs import prove_site
from kits.demo.services import fill, make_people
from kits.issuing.queries import debts
from kits.models import Arrival, Package, Posting, Shipment
from kits.receiving.queries import delivery_report
from kits.receiving.unopened import unopened
from kits.shortages.queries import reconcile
from reels.models import Reel
from takeoff.models import Record, SetAside, User
from takeoff.units.days import add_business_days, add_months

pytestmark = pytest.mark.django_db
CRATES = ("Crate 1", "Crate 2", "Crate 3")


class Phone:
    """A phone of somebody: keeps what is done on it, and sends it when there is signal."""

    def __init__(self, client, site, name: str) -> None:
        self.client, self.site, self.name = client, site, name
        self.kept: list[dict] = []

    def keep(self, kind: str, at: datetime, **row) -> str:
        id_ = f"{self.name} {len(self.kept) + 1}"
        said = {"id": id_, "at": at.isoformat(), **{name: str(cell) for name, cell in row.items()}}
        self.kept.append({"kind": kind, "number": len(self.kept) + 1, "row": said})
        return id_

    def send(self) -> list[str]:
        answers = []
        for first in range(0, len(self.kept), 50):
            body = json.dumps({"device": self.name, "clock": None, "records": self.kept[first : first + 50]})
            sent = self.client.post(reverse("records", args=[self.site.slug]), body, content_type="application/json")
            assert sent.status_code == 200
            answers += sent.json()["records"]
        assert [answer for answer in answers if answer["answer"] == "refused"] == []
        return [answer["answer"] for answer in answers]


@pytest.fixture
def site(tmp_path, settings):
    settings.MEDIA_ROOT = tmp_path / "media"
    found, _result = fill(folder=tmp_path / "sheets")
    make_people(site=found)
    return found


@pytest.fixture
def storekeeper(client, site):
    client.force_login(User.objects.get(username="storekeeper"))
    return client


def listed(site, crate: str) -> list[tuple[str, Decimal]]:
    """What the list says of a crate, an item a row."""
    rows: dict[str, Decimal] = {}
    for line in Package.objects.of(site).get(name=crate, shipment__name="SH-1093").lines.order_by("pk"):
        rows[line.item.code] = rows.get(line.item.code, Decimal(0)) + line.quantity
    return list(rows.items())


def text_of(client, *address) -> str:
    answer = client.get(reverse(address[0], args=["quillmarsh", *address[1:]]))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_a_day_of_the_store_ends_with_one_story(site, storekeeper):
    shipment = Shipment.objects.of(site).get(name="SH-1093")
    today = site.today()
    # Two days ago: what has not happened yet cannot be recorded.
    gate = datetime.combine(today - timedelta(days=2), time(14, 5), tzinfo=site.tz)
    one, other = Phone(storekeeper, site, "one"), Phone(storekeeper, site, "other")
    minutes = iter(range(1, 500))

    def soon() -> datetime:
        return gate + timedelta(minutes=next(minutes))

    one.keep("arrivals", gate, shipment="SH-1093", count=3, damaged="Crate 2", words="as proposed", by="Sam")
    short, damaged, strange = (listed(site, "Crate 1")[n] for n in (1, 3, 5))
    for code, quantity in listed(site, "Crate 1"):
        said = {"shipment": "SH-1093", "package": "Crate 1", "item": code}
        if code == short[0]:
            one.keep("receipts", soon(), counted=quantity - 2, **said)
        elif code == damaged[0]:
            moment = soon()
            one.keep("receipts", moment, counted=quantity - 3, **said)
            one.keep("receipts", moment, counted=3, condition="damaged", note="corner crushed", **said)
        elif code == strange[0]:
            one.keep("receipts", soon(), counted=quantity, came_text="blue rubber feet", **said)
        else:
            one.keep("receipts", soon(), counted=quantity, **said)
    for code, quantity in listed(site, "Crate 2"):
        other.keep("receipts", soon(), shipment="SH-1093", package="Crate 2", item=code, counted=quantity)
    # One line of Crate 1 was counted by both.
    code, quantity = listed(site, "Crate 1")[0]
    twice = {"shipment": "SH-1093", "package": "Crate 1", "item": code}
    other.keep("receipts", soon(), counted=quantity - 1, **twice)
    for code, quantity in listed(site, "Crate 3"):
        said = {"shipment": "SH-1093", "package": "Crate 3", "item": code, "condition": "not opened"}
        one.keep("receipts", soon(), counted=quantity, **said)
    marks = {"shipment": "SH-1093", "bin": "Yard row 3"}
    one.keep("reel_events", soon(), reel="R-515", outer_mark=3466, inner_mark=2626, **marks)
    one.keep("reel_events", soon(), reel="R-516", outer_mark=506, inner_mark=1366, points="end seal missing", **marks)
    evening, night = soon() + timedelta(hours=4), soon() + timedelta(hours=9)
    one.keep("shipments_found", night, shipment="Night truck")
    one.keep(
        "arrivals", night, shipment="Night truck", count=1, not_before=evening.isoformat(), standing="at the fence"
    )
    one.keep("receipts", night, shipment="Night truck", item="sealant-butyl", counted=12, grade="silicone")

    # Signal: the second phone is heard first, every answer is lost once, and all is sent twice.
    for phone in (other, one, one, other):
        phone.send()
    waiting = SetAside.objects.of(site).filter(end=None)
    assert Record.objects.of(site).filter(device__in=["one", "other"]).count() == len(one.kept) + len(other.kept)
    (aside,) = waiting
    assert "are these the same goods counted again" in aside.reason
    first_told = {answer for phone in (one, other) for answer in phone.send()}
    assert first_told <= {"known", "aside"}

    # Settled by one touch: the same goods, as the phone counted them that was heard last.
    page = reverse("waiting_record", args=[site.slug, aside.pk])
    asked = storekeeper.get(page).context["form"].initial
    answer = storekeeper.post(page, {name: cell for name, cell in asked.items() if cell} | {"again": "same"})
    assert answer.status_code == 302, answer.content.decode()
    assert not waiting.all().exists()

    report = {(row.line.package.name, row.line.item.code): row.report for row in delivery_report(shipment).lines}
    whole = delivery_report(shipment)
    # Two are missing, and all of what something else came for.
    assert sum(line.report.short for line in whole.lines) == (2 + strange[1]) * 10_000
    assert sum(line.report.damaged for line in whole.lines) == 3 * 10_000
    assert [line.report.wrong[0][0] for line in whole.lines if line.report.wrong][:1] == ["blue rubber feet"]
    assert len({(package, item) for package, item in report if package in CRATES}) == len(report)
    (truck,) = whole.trucks
    assert (truck.delivered, truck.dates.concealed, truck.dates.claim) == (
        gate.date(),
        add_business_days(gate.date(), 5, ()),
        add_months(gate.date(), 9),
    )
    assert Arrival.objects.of(site).get(shipment=shipment).written == (
        "Damaged outside: Crate 2, contents not checked."
    )
    assert {reel.tag: reel.state for reel in Reel.objects.of(site).filter(delivery="SH-1093")} == {
        "R-515": "on site",
        "R-516": "held",
    }
    held = text_of(storekeeper, "stock_held")
    assert "silicone" in held.lower() or "refused" in held
    assert "damaged" in held
    crate = Package.objects.of(site).get(shipment=shipment, name="Crate 3")
    assert [each.package for each in unopened(site)] == [crate]
    assert "Crate 3, unopened" in text_of(storekeeper, "today")
    assert_one_story(site)

    # Opened in time, and two fewer in it.
    code, quantity = listed(site, "Crate 3")[0]
    later = gate + timedelta(hours=12)
    one.keep("receipts", later, shipment="SH-1093", package="Crate 3", item=code, counted=quantity - 2)
    borrowed = {"item": "bolt-splice-3/8x1", "quantity": 4, "run": "CB-05", "stage": "enclosure"}
    one.keep("issues", later + timedelta(minutes=1), lender="CB-13", **borrowed)
    taken = one.keep("issues", later + timedelta(minutes=2), **borrowed | {"item": "splice-plate", "quantity": 2})
    assert one.send()[-3:] == ["kept", "look", "look"] or one.send()[-3:] == ["known"] * 3
    assert unopened(site) == []
    owed = [debt for debt in debts(site) if (debt.borrower.name, debt.lender.name) == ("CB-05", "CB-13")]
    assert [debt.quantity for debt in owed] == [4]
    back = {name: borrowed[name] for name in ("item", "quantity", "run", "stage")}
    one.keep("returns", later + timedelta(minutes=3), bin="CB-13 kit", **back)
    one.keep("reversals", later + timedelta(minutes=4), reverses=taken, reason="wrong tap")
    assert one.send()[-2:] == ["kept", "kept"]
    assert not [debt for debt in debts(site) if (debt.borrower.name, debt.lender.name) == ("CB-05", "CB-13")]
    assert Posting.objects.of(site).get(event_id=taken).reversed_by.reason == "wrong tap"
    assert_one_story(site)


def assert_one_story(site) -> None:
    """The books are proved, and every item's causes add up to what it lacks."""
    assert [proof for proof in prove_site(site) if not proof.holds] == []
    found = reconcile(site)
    for line in found.lines:
        assert sum(line.causes.values()) == line.need - line.usable - line.inbound
        assert line.short == max(0, line.gap + line.learned) + line.timing

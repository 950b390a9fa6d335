"""Trucks at the gate, announced or not, and taken back."""

import pytest
from django.urls import reverse

from kits.audit.proofs import prove_site
from kits.gate.queries import calls_of
from kits.models import Arrival, ArrivedPackage, Package, Shipment
from kits.receiving.queries import delivery_report
from takeoff.models import SetAside, Site
from takeoff.records.decoding import Sent
from takeoff.records.services import keep_one, take
from takeoff.records.terms.errors import AskFirstError, RecordError
from tests.factories.kits import PackageFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, SiteFactory, member
from tests.kits.makers import at, counted, lying, received

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return SiteFactory(slug="here")


@pytest.fixture
def shipment(site):
    found = ShipmentFactory(site=site, name="S-1")
    for name in ("Crate 1", "Crate 2", "Crate 3"):
        PackageFactory(shipment=found, name=name)
    return found


def arrive(site, id_="a", *, number=2, **row):
    return keep_one(
        site=site, kind="arrivals", row={"id": id_, "shipment": "S-1", "count": "3", "at": at(number), **row}
    )


def states(arrival: Arrival) -> dict[str, str]:
    return {row.package.name: row.state for row in arrival.packages.select_related("package")}


def test_a_truck_tells_what_is_here_missing_and_damaged(site, shipment):
    arrive(site, count="2", missing="Crate 3", damaged="Crate 1", words="as proposed", by="Sam")
    (arrival,) = Arrival.objects.of(site)
    assert states(arrival) == {"Crate 1": "damaged", "Crate 2": "here", "Crate 3": "missing"}
    assert arrival.written == (
        "Received 2 of 3 packages. Missing: Crate 3. Damaged outside: Crate 1, contents not checked."
    )
    assert all(proof.holds for proof in prove_site(site))


def test_other_words_stay_as_they_were_written(site, shipment):
    arrive(site, words="others", written="one corner wet")
    assert Arrival.objects.of(site).get().written == "one corner wet"


def test_a_package_that_no_list_names_becomes_one(site, shipment):
    arrive(site, count="4", further="Pallet 9")
    assert states(Arrival.objects.get())["Pallet 9"] == "here"
    assert Package.objects.of(site).filter(name="Pallet 9").exists()


def test_a_number_that_the_names_do_not_give_is_asked_about(site, shipment):
    with pytest.raises(AskFirstError) as asked:
        arrive(site, count="5")
    assert asked.value.said == ("5 packages were counted; by their names 3 are here.",)


def test_a_package_that_is_not_there_is_refused_by_name(site, shipment):
    with pytest.raises(RecordError) as error:
        arrive(site, missing="Crate 7")
    assert (error.value.column, error.value.found) == ("missing", "Crate 7")
    assert not Arrival.objects.of(site).exists()


def test_the_clocks_run_from_the_first_truck_and_not_from_the_first_count(site, shipment):
    """5 business days of NMFC item 300135-A from Monday 2 March: Monday 9 March, a holiday between: the day after."""
    item = ItemFactory(site=site, code="LUG")
    PackingLineFactory(shipment=shipment, item=item, quantity=4)
    arrive(site)
    received(shipment, counted(item, 4), number=20)
    assert str(delivery_report(shipment).trucks[0].dates.concealed) == "2026-03-09"
    site.holidays = ["2026-03-05"]
    site.save()
    shipment.refresh_from_db()
    assert str(delivery_report(shipment).trucks[0].dates.concealed) == "2026-03-10"


def test_a_truck_taken_back_no_longer_counts_and_only_once(site, shipment):
    arrive(site)
    row = {"id": "u", "reverses": "a", "reason": "wrong tap", "at": at(3)}
    keep_one(site=site, kind="reversals", row=row)
    assert not delivery_report(shipment).trucks
    with pytest.raises(RecordError):
        keep_one(site=site, kind="reversals", row={**row, "id": "u2"})


def test_a_truck_nobody_announced_is_made_counted_and_cannot_then_go(site):
    item = ItemFactory(site=site, code="LUG")
    keep_one(site=site, kind="shipments_found", row={"id": "f", "shipment": "S-9", "carrier": "Rail", "at": at(2)})
    shipment = Shipment.objects.of(site).get()
    assert (shipment.supplier, shipment.carrier, shipment.found_at) == (None, "Rail", at(2))
    received(shipment, counted(item, 6))
    assert lying(item)["bin Store"] == 6
    assert all(proof.holds for proof in prove_site(site))
    with pytest.raises(RecordError) as error:
        keep_one(site=site, kind="reversals", row={"id": "u", "reverses": "f", "reason": "x", "at": at(3)})
    assert "it stays" in str(error.value)


def test_a_truck_made_by_mistake_goes_again_and_its_name_is_free(site):
    row = {"id": "f", "shipment": "S-9", "at": at(2)}
    keep_one(site=site, kind="shipments_found", row=row)
    with pytest.raises(RecordError):
        keep_one(site=site, kind="shipments_found", row={**row, "id": "g"})
    keep_one(site=site, kind="reversals", row={"id": "u", "reverses": "f", "reason": "x", "at": at(3)})
    assert not Shipment.objects.of(site).exists()
    keep_one(site=site, kind="shipments_found", row={**row, "id": "g"})


def test_a_phone_sends_the_truck_before_or_after_its_shipment(site):
    user = member(site, "foreman")
    found = Sent("shipments_found", {"id": "f", "shipment": "S-9", "at": at(2).isoformat()})
    truck = Sent("arrivals", {"id": "a", "shipment": "S-9", "count": "2", "at": at(2).isoformat()})

    def send(*records):
        return [one.answer for one in take(site=site, sender=user, roles=frozenset({"foreman"}), sent=records)]

    assert send(truck) == ["aside"]
    assert send(found) == ["kept"]
    assert Arrival.objects.of(site).count() == 1, "it is tried again once its shipment is known"
    other = {"shipment": "S-8"}
    batch = [
        Sent("arrivals", {**truck.row, **other, "id": "b"}),
        Sent("shipments_found", {**found.row, **other, "id": "g"}),
    ]
    assert send(Sent("arrivals", {**truck.row, "id": "c"}), *batch) == ["kept"] * 3
    assert not SetAside.objects.of(site).filter(end=None).exists()


def test_a_storekeeper_and_a_foreman_may_a_viewer_not(site, shipment):
    row = {"id": "a", "shipment": "S-1", "count": "3", "at": at(2).isoformat()}
    for role, answer in (("viewer", "aside"), ("storekeeper", "kept"), ("foreman", "kept")):
        sent = [Sent("arrivals", {**row, "id": role})]
        (one,) = take(site=site, sender=member(site, role), roles=frozenset({role}), sent=sent)
        assert one.answer == answer
    assert ArrivedPackage.objects.of(site).count() == 6


def test_a_truck_that_is_refused_leaves_no_package_behind(site, shipment):
    with pytest.raises(RecordError):
        arrive(site, missing="Crate 7", further="Pallet 9")
    truck = Sent("arrivals", {"id": "q", "shipment": "S-1", "count": "3", "missing": "Crate 7", "further": "Pallet 9"})
    sent = [Sent("arrivals", {**truck.row, "at": at(2).isoformat()})]
    (one,) = take(site=site, sender=member(site, "foreman"), roles=frozenset({"foreman"}), sent=sent)
    assert one.answer == "aside"
    assert not Package.objects.of(site).filter(name="Pallet 9").exists()


def test_the_words_that_are_kept_are_those_that_the_page_proposed(site, shipment):
    """Three listed, a fourth found: the list names three."""
    arrive(site, count="4", further="Pallet 9", words="as proposed")
    assert Arrival.objects.of(site).get().written == "Received 4 of 3 packages."


def call(site, id_, expected, number=2, **row):
    said = {"id": id_, "shipment": "S-1", "expected": expected, "at": at(number), **row}
    return keep_one(site=site, kind="truck_calls", row=said)


def undo(site, id_, number):
    row = {"id": f"not {id_}", "reverses": id_, "at": at(number), "reason": "wrong tap"}
    keep_one(site=site, kind="reversals", row=row)


def day_of(shipment):
    shipment.refresh_from_db()
    return shipment.expected and shipment.expected.isoformat()


def test_the_dispatcher_s_last_word_sets_the_day_whatever_order_it_comes_in(site, shipment):
    Shipment.objects.of(site).update(expected="2026-03-09")
    call(site, "late", "2026-03-12", 4, hour="about 14:00", lift="2,400 lb", crane="yes")
    call(site, "early", "2026-03-11", 3)
    assert day_of(shipment) == "2026-03-12"
    assert calls_of(site, [shipment])[shipment.pk].lift == "2,400 lb"


def test_a_call_taken_back_leaves_the_one_before_it_or_the_list(site, shipment):
    Shipment.objects.of(site).update(expected="2026-03-09")
    call(site, "first", "2026-03-11", 3)
    call(site, "second", "2026-03-12", 4)
    undo(site, "second", 5)
    assert day_of(shipment) == "2026-03-11"
    undo(site, "first", 6)
    assert (day_of(shipment), calls_of(site, [shipment])) == ("2026-03-09", {})
    with pytest.raises(RecordError, match="taken back before"):
        keep_one(site=site, kind="reversals", row={"id": "x", "reverses": "first", "at": at(7), "reason": "wrong tap"})
    assert all(proof.holds for proof in prove_site(site))


def test_what_the_dispatcher_says_stands_beside_the_truck(client, site, shipment):
    client.force_login(member(site, "storekeeper"))
    url = reverse("receiving_shipment", args=["here", shipment.pk])
    assert "What the dispatcher says" in client.get(url).content.decode()
    call(site, "late", site.today().isoformat(), hour="about 14:00", lift="2,400 lb", crane="yes")
    for page in (url, reverse("receiving", args=["here"])):
        text = " ".join(client.get(page).content.decode().split())
        assert "about 14:00; heaviest piece 2,400 lb; a crane stands by" in text

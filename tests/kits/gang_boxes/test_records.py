"""A crew's gang box: filled in cases, counted on Friday, and what is gone shared over what the crew worked on."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest

from kits.audit.proofs import prove_site
from kits.models import Posting
from kits.stock.books.errors import LedgerError
from takeoff.models import Site
from takeoff.records.decoding import Sent
from takeoff.records.services import keep_one, take
from tests.factories.kits import ShipmentFactory
from tests.factories.takeoff import ItemFactory, member
from tests.kits.gang_boxes.crew import a_run, filled, left
from tests.kits.makers import at, event_id, handed, lying, report, stocked

pytestmark = pytest.mark.django_db
BOX = "gang_box Crew A's box"


def sound(site) -> list[str]:
    return [proof.claim for proof in prove_site(site) if not proof.holds]


def test_filling_makes_the_box_of_a_crew_and_nobody_else_is_handed_anything_out_of_it(site, tape):
    run = a_run(site, "CB-1", tape, 30)
    filled(tape, 90)
    assert lying(tape) == {"bin Store": 10, BOX: 90, "lost_found Lost and found": -100}
    handed(tape, 8, run)
    with pytest.raises(LedgerError, match="8 rolls asked, 2 there"):
        handed(tape, 8, run)
    with pytest.raises(LedgerError, match="nothing is handed out of it"):
        handed(tape, 1, run, bin="Crew A's box")


def test_what_is_gone_goes_to_the_stages_that_were_done_since_or_are_begun_by_what_they_lack(site, tape):
    done = a_run(site, "CB-1", tape, 30, done=5)
    begun = a_run(site, "CB-2", tape, 20)
    a_run(site, "CB-3", tape, 50)  # not begun
    a_run(site, "CB-4", tape, 50, crew="Crew B", done=5)
    a_run(site, "CB-5", tape, 50, done=1)  # done before the box was filled
    handed(tape, 10, begun, number=2)
    filled(tape, 60, number=2)
    left(tape, 20)
    found = lying(tape)
    assert found[f"handed_out {done} seals"] == 30
    assert found[f"handed_out {begun} seals"] == 10 + 10
    assert found[BOX] == 20
    assert sum(found.values()) == 0
    assert sound(site) == []


def test_about_half_is_half_of_what_was_there_in_whole_pieces(site, tape):
    a_run(site, "CB-1", tape, 30, done=5)
    filled(tape, 15)
    left(tape, None)
    assert lying(tape)[BOX] == 7


def test_with_no_stage_to_go_to_it_asks_and_not_known_is_lost(site, tape):
    a_run(site, "CB-1", tape, 30)
    filled(tape, 15)
    with pytest.raises(LedgerError, match="5 rolls of TAPE are gone, and crew  A has worked on no stage"):
        left(tape, 10)
    left(tape, 10, gone_to="not known")
    assert lying(tape)["lost_found Lost and found"] == -95


def test_more_than_was_there_is_found(site, tape):
    a_run(site, "CB-1", tape, 30, done=5)
    filled(tape, 15)
    left(tape, 17)
    assert (lying(tape)[BOX], lying(tape)["lost_found Lost and found"]) == (17, -102)


def test_what_was_counted_with_a_stage_is_not_counted_with_it_again(site, tape):
    first = a_run(site, "CB-1", tape, 30, done=5)
    filled(tape, 60)
    left(tape, 40, number=6)
    second = a_run(site, "CB-2", tape, 10, done=9)
    left(tape, 25, number=13)
    found = lying(tape)
    assert (found[f"handed_out {first} seals"], found[f"handed_out {second} seals"]) == (20, 15)


def test_a_late_filling_goes_to_the_stages_of_the_count_and_not_to_lost_and_found(site, tape):
    done, begun = a_run(site, "CB-1", tape, 30, done=5), a_run(site, "CB-2", tape, 10)
    handed(tape, 1, begun)
    filled(tape, 40)
    left(tape, 10, number=6)
    filled(tape, 13, number=4)
    found = lying(tape)
    assert found[BOX] == 10
    assert found["lost_found Lost and found"] == -100
    assert found[f"handed_out {done} seals"] + found[f"handed_out {begun} seals"] == 1 + 30 + 13
    # 30 to 9 is what they needed and had not: of 30 and of 13 that many each, by largest remainder.
    assert found[f"handed_out {done} seals"] == Decimal("23.0769") + 10
    assert sound(site) == []


def test_what_left_the_box_before_the_count_and_is_told_late_comes_back_from_its_stages(site, tape):
    done = a_run(site, "CB-1", tape, 30, done=5)
    filled(tape, 40)
    left(tape, 10, number=6)
    report(site, "transfers", item=tape, quantity="25", source="Crew A's box", target="Store", number=4)
    found = lying(tape)
    assert (found[BOX], found[f"handed_out {done} seals"], found["bin Store"]) == (10, 5, 85)
    report(site, "transfers", item=tape, quantity="8", source="Crew A's box", target="Store", number=4)
    found = lying(tape)
    # The stage had 5 of it: the other 3 were found.
    assert f"handed_out {done} seals" not in found
    assert (found[BOX], found["bin Store"], found["lost_found Lost and found"]) == (10, 93, -103)
    filled(tape, 4, number=4)
    found = lying(tape)
    assert (found[f"handed_out {done} seals"], found["lost_found Lost and found"]) == (1, -100)


def test_two_late_records_of_one_batch_take_no_more_from_the_stages_than_the_count_gave(site, tape):
    done = a_run(site, "CB-1", tape, 30, done=5)
    handed(tape, 5, done)
    filled(tape, 40)
    left(tape, 10, number=6)
    out = {"item": "TAPE", "source": "Crew A's box", "target": "Store", "at": at(4).isoformat()}
    sent = [Sent("transfers", {"id": f"out {quantity}", "quantity": quantity, **out}) for quantity in ("25", "8")]
    answers = take(site=site, sender=member(site, "storekeeper"), roles=frozenset({"storekeeper"}), sent=sent)
    assert [answer.answer for answer in answers] == ["kept", "kept"]
    found = lying(tape)
    assert found[f"handed_out {done} seals"] == 5  # as it was handed out
    assert (found[BOX], found["bin Store"], found["lost_found Lost and found"]) == (10, 88, -103)


def test_a_count_that_is_taken_back_gives_back_what_it_shared(site, tape):
    a_run(site, "CB-1", tape, 30, done=5)
    filled(tape, 40)
    count = left(tape, 10, number=6)
    filled(tape, 13, number=4)
    report(site, "reversals", reverses=count.event_id, reason="wrong tap", number=7)
    assert lying(tape) == {"bin Store": 47, BOX: 53, "lost_found Lost and found": -100}
    assert sound(site) == []


def test_a_count_that_comes_late_takes_over_its_part_of_the_next(site, tape):
    first = a_run(site, "CB-1", tape, 30, done=5)
    filled(tape, 40)
    second = a_run(site, "CB-2", tape, 30, done=12)
    left(tape, 10, number=13)
    left(tape, 25, number=6)
    found = lying(tape)
    assert found[BOX] == 10
    assert (found[f"handed_out {first} seals"], found[f"handed_out {second} seals"]) == (15 + 7.5, 7.5)
    assert sound(site) == []


def test_parts_that_each_have_their_place_go_into_no_box(site):
    lug = ItemFactory(site=site, code="LUG")
    stocked(lug, 10)
    a_run(site, "CB-1", lug, 5)
    with pytest.raises(LedgerError, match="LUG is handed out to a run and stage"):
        filled(lug, 5)
    with pytest.raises(LedgerError, match="no gang box holds it"):
        left(lug, 5)


@pytest.mark.parametrize("kind", ["counts", "returns", "releases", "receipts"])
def test_a_box_is_filled_by_a_move_only(site, tape, kind):
    run = a_run(site, "CB-1", tape, 30)
    handed(tape, 5, run)
    more = {
        "counts": {"counted": "5"},
        "returns": {"quantity": "5", "run": run, "stage": "seals"},
        "releases": {"quantity": "5", "reason": "good"},
        "receipts": {"counted": "5", "shipment": "S-1"},
    }[kind]
    ShipmentFactory(site=site, name="S-1")
    with pytest.raises(LedgerError, match="gang box of a crew"):
        report(site, kind, item=tape, bin="Crew A's box", **more)


def test_nobody_is_called_so(site, tape):
    with pytest.raises(LedgerError, match="There is no crew 'Crew Z' here"):
        left(tape, 5, crew="Crew Z")
    with pytest.raises(LedgerError, match="There is no bin"):
        filled(tape, 5, crew="Crew Z")
    Site.objects.filter(pk=site.pk).update(names=["Crew Z"])
    tape.site.refresh_from_db()
    filled(tape, 5, crew="Crew Z")
    assert lying(tape)["gang_box Crew Z's box"] == 5


def test_a_foreman_counts_a_box_from_a_phone_before_its_filling_has_come(site, tape):
    done = a_run(site, "CB-1", tape, 30, done=5)
    sender = member(site, "foreman")
    row = {"id": "c", "item": "TAPE", "crew": "Crew A", "counted": "4", "at": at(6).isoformat()}
    (answer,) = take(site=site, sender=sender, roles=frozenset({"foreman"}), sent=[Sent("box_counts", row)])
    assert answer.answer == "kept"
    filled(tape, 10)
    found = lying(tape)
    assert (found[BOX], found[f"handed_out {done} seals"], found["lost_found Lost and found"]) == (4, 6, -100)


def test_neither_figure_nor_half_nor_both(site, tape):
    a_run(site, "CB-1", tape, 30)
    for said in ({}, {"counted": "5", "about": "half"}):
        row = {"id": event_id(), "item": tape, "crew": "Crew A", "at": datetime(2026, 3, 6, tzinfo=UTC), **said}
        with pytest.raises(LedgerError, match="Say how many are left, or that it is about half"):
            keep_one(site=site, kind="box_counts", row=row)
    assert not Posting.objects.of(site).filter(kind="count", at__day=6).exists()

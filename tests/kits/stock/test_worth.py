"""What came in place of an item lies in its own pieces, and the item's books are in what those are worth."""

import re
from contextlib import suppress
from decimal import Decimal
from fractions import Fraction
from html import unescape

import pytest
from django.urls import reverse as reverse_url
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kits.audit.proofs import prove_site
from kits.issuing.queries import debts
from kits.models import Balance, Lot, Posting, ReceiptLine
from kits.shortages.queries import reconcile
from kits.stock.books.errors import LedgerError
from kits.stock.books.pieces import Piece
from kits.stock.pages import stock_list
from kits.stock.places import Places
from kits.stock.planned_acts import Act
from kits.stock.services import record_acts
from kits.stock.worth import with_units, worth_lying
from kits.transfers.queries import on_the_way_from
from takeoff.models import Place
from takeoff.records.services import keep_one
from takeoff.records.terms.errors import AskFirstError, RecordError
from tests.factories.kits import LotFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, SiteFactory, SupplierFactory, member
from tests.kits.makers import at, counted, day, given_back, handed, lying, move_of, received, report, reverse, stocked
from tests.kits.shortages.scene import Scene
from tests.lock_order import undone

pytestmark = pytest.mark.django_db
BIG = "BIG"  # the lot of what came


class Sealed(Scene):
    """A site that needs tubes, of which cartridges are accepted in place: one is worth 280/101 = 2.772277... tubes."""

    def __init__(self) -> None:
        super().__init__()
        of = {"contents_unit": "fl oz", "grade": "butyl rubber"}
        self.tube = self.item("TUBE", unit="tube", accept="butyl rubber", contents=Decimal("10.1"), **of)
        self.cartridge = self.item(BIG, unit="cartridge", contents=Decimal(28), **of)
        self.runs = [self.run("CB-1"), self.run("CB-2")]
        for run in self.runs:
            self.needs(run, self.tube, "seals", 12)
        self.shipment = self.ship(self.tube, 40).shipment

    def came(self, quantity, **more):
        return received(self.shipment, counted(self.tube, quantity, came_item=self.cartridge, **more))

    def worth(self) -> dict[str, int]:
        """What pieces are worth, by place. [ticks]"""
        names = dict(Place.objects.of(self.site).values_list("pk", "name"))
        return {names[place]: worth for (place, _, _), worth in worth_lying(self.site).items() if worth}


@pytest.fixture
def scene():
    return Sealed()


def test_what_came_lies_in_its_pieces_and_its_lot_says_what_each_covers(scene):
    scene.came(4)
    assert sorted(lying(scene.tube).values()) == [-4, 4]
    assert lying(scene.tube)["bin Store [BIG]"] == 4
    lot = Lot.objects.of(scene.site).get()
    assert (lot.code, lot.came_item, str(lot.covers)) == (BIG, scene.cartridge, "280/101")
    assert sorted(scene.worth().values()) == [-110_891, 110_891]


def test_of_a_plain_lot_the_quantity_is_its_worth(scene):
    received(scene.shipment, counted(scene.tube, 4, lot="L1"))
    assert worth_lying(scene.site) == {}


def test_places_share_the_worth_of_what_came(scene):
    """Worked by hand: 4 pieces are worth 11.0891; 1 of them 2.7722 and 3 of them, behind it, the rest: 8.3169."""
    scene.came(4)
    scene.bin("B")
    report(scene.site, "transfers", item=scene.tube, quantity="3", source="Store", target="B", lot=BIG)
    worth = scene.worth()
    assert (worth["Store"], worth["B"]) == (27_722, 83_169)


def test_without_a_lot_a_hand_out_takes_whole_pieces_up(scene):
    """Worked by hand: 2 tubes lie there; of 5 wanted 3 are left, and 3 / 2.772 is more than 1: 2 pieces."""
    stocked(scene.tube, 2)
    scene.came(4)
    handed(scene.tube, 5, scene.runs[0])
    assert lying(scene.tube)["bin Store [BIG]"] == 2
    assert "bin Store" not in lying(scene.tube)


def test_of_a_lot_that_is_named_pieces_are_handed_out_and_come_back(scene):
    scene.came(4)
    handed(scene.tube, 3, scene.runs[0], lot=BIG)
    given_back(scene.tube, 1, scene.runs[0], lot=BIG)
    assert (lying(scene.tube)["bin Store [BIG]"], lying(scene.tube)["handed_out CB-1 seals [BIG]"]) == (2, 2)


def test_a_hand_out_beyond_what_lies_there_tells_the_pieces(scene):
    scene.came(4)
    with pytest.raises(LedgerError, match=r"12 tubes asked, 11.0891 there \(4 cartridges of lot BIG in Store\)"):
        handed(scene.tube, 12, scene.runs[0])
    with pytest.raises(LedgerError, match="5 cartridges asked, 4 there"):
        handed(scene.tube, 5, scene.runs[0], lot=BIG)


def test_a_count_of_a_lot_is_in_its_pieces(scene):
    scene.came(4)
    report(scene.site, "counts", item=scene.tube, bin="Store", counted="3", lot=BIG, number=3)
    assert lying(scene.tube)["bin Store [BIG]"] == 3
    line = _line(scene)
    assert (line.causes["lost"], line.causes["short_at_count"]) == (110_891 - line.usable, 400_000 - 110_891)


def test_no_crumb_is_a_cause(scene):
    """Worked by hand: 3 receipts of a cartridge cover 2.7722 each, 8.3166 in all, though 3 at once cover 8.3168."""
    for number in (1, 2, 3):
        scene.came(1, partial="yes", again="further" if number > 1 else "")
    handed(scene.tube, 2, scene.runs[0], lot=BIG)
    given_back(scene.tube, 1, scene.runs[0], lot=BIG)
    line = _line(scene)
    assert line.usable + sum(need.issued for need in line.needs) == 83_166
    assert {name: part for name, part in line.causes.items() if part} == {"not_shipped": -400_000, "kit_list": 240_000}


def test_a_lot_that_came_in_the_items_own_unit_takes_no_pieces(scene):
    """So does one that an older ledger kept in the item's own unit."""
    received(scene.shipment, counted(scene.tube, 5, lot=BIG, partial="yes"))
    with pytest.raises(LedgerError, match="Lot BIG of TUBE came before, and its pieces are not like these"):
        scene.came(4, again="further")
    scene.came(4, again="further", lot="2")
    assert lying(scene.tube)["bin Store [BIG 2]"] == 4
    assert not Lot.objects.of(scene.site).filter(code=BIG)


def test_a_lot_of_which_nothing_came_after_all_lies_as_what_comes_then(scene):
    came = scene.came(4).posting
    reverse(site=scene.site, event_id="u", posting=came, at=at(3), reason="not these")
    received(scene.shipment, counted(scene.tube, 5, lot=BIG), number=4)
    assert worth_lying(scene.site) == {}
    assert _line(scene).usable == 50_000


def test_the_item_itself_does_not_go_into_a_lot_of_pieces(scene):
    scene.came(4, partial="yes")
    with pytest.raises(LedgerError, match="Lot BIG of TUBE came before"):
        received(scene.shipment, counted(scene.tube, 5, lot=BIG, again="further"))


def test_pieces_are_put_whole_into_the_boxes_of_the_kits_that_they_are_for(scene):
    """Worked by hand: 5 tubes for the first kit are 1.8 cartridges, so 2; of 4 the others are left for the second."""
    received(boxed(scene, scene.tube, 5, 5), counted(scene.tube, 4, came_item=scene.cartridge))
    assert {name: held for name, held in lying(scene.tube).items() if held > 0} == {
        "kit_box B0 [BIG]": 2,
        "kit_box B1 [BIG]": 2,
    }
    assert [row.covers for row in ReceiptLine.objects.of(scene.site).order_by("pk")] == [5, Decimal("6.0891")]


def boxed(scene, item, *quantities):
    """A shipment that lists so many of an item for the kits of the runs."""
    shipment = ShipmentFactory(site=scene.site, supplier=scene.supplier)
    for number, (quantity, run) in enumerate(zip(quantities, scene.runs, strict=True)):
        kit = scene.promise(item, quantity, run=run, name=f"B{number}")
        PackingLineFactory(shipment=shipment, item=item, quantity=quantity, kit=kit)
    return shipment


def test_of_pieces_that_are_not_whole_there_are_no_more_than_came(scene):
    """Worked by hand: 6 tubes for the first kit are 2.16 cartridges, so 3, and there are 2.5."""
    received(boxed(scene, scene.tube, 6, 5), counted(scene.tube, "2.5", came_item=scene.cartridge))
    assert {name: held for name, held in lying(scene.tube).items() if held > 0} == {"kit_box B0 [BIG]": Decimal("2.5")}


def test_the_last_line_gets_all_that_is_left_of_what_is_measured(scene):
    """Worked by hand: a litre is a third of a can, 0.3333; 0.1 cans are 0.3 litres, and 0.7 are left."""
    of = {"contents_unit": "L", "grade": "oil"}
    can = scene.item("CAN", unit="can", accept="oil", contents=Decimal(3), **of)
    litre = scene.item("LITRE", unit="litre", contents=Decimal(1), **of)
    received(boxed(scene, can, "0.1", 5), counted(can, 1, came_item=litre))
    assert {name: held for name, held in lying(can).items() if held > 0} == {
        "kit_box B0 [LITRE]": Decimal("0.3"),
        "kit_box B1 [LITRE]": Decimal("0.7"),
    }


def test_of_what_is_refused_no_lot_is_kept(scene):
    store, lost, piece = (
        scene.bin(),
        Places(scene.site).lost_found(),
        Piece(Fraction(2), scene.cartridge.pk, "cartridge"),
    )

    def refused(books):
        books.tell_piece(scene.tube.pk, "R", piece)
        raise LedgerError("not so")

    def kept(books):
        books.tell_piece(scene.tube.pk, "K", piece)
        return [move_of(scene.tube, 1, lost, store, "K")]

    acts = [
        Act(
            posting=Posting(site=scene.site, event_id=event, kind="count", at=at(), recorded_at=at()),
            items=(scene.tube,),
            places=(store, lost),
            steps=steps,
        )
        for event, steps in (("r", refused), ("k", kept))
    ]
    record_acts(scene.site, acts)
    assert [lot.code for lot in Lot.objects.of(scene.site)] == ["K"]


def test_worth_as_of_a_day_is_of_the_receipts_that_stood_then(scene):
    """Worked by hand: a receipt of 1 and one of 2 pieces are worth 2.7722 and 5.5445, and not 3 times 2.7722."""
    scene.came(1, partial="yes")
    second = scene.came(2, partial="yes", again="further").posting
    reverse(site=scene.site, event_id="u", posting=second, at=at(10), reason="not these")
    assert max(worth_lying(scene.site, before=at(5)).values()) == 83_167
    assert max(worth_lying(scene.site, before=at(11)).values()) == 27_722
    assert set(worth_lying(scene.site, before=at(1)).values()) == {0}


def test_what_lies_somewhere_says_what_it_is_counted_in(scene):
    stocked(scene.tube, 2)
    scene.came(4)
    rows = with_units(Balance.objects.of(scene.site).filter(place__name="Store"), scene.site).order_by("lot")
    assert [(row.quantity, row.unit) for row in rows] == [(2, "tube"), (4, "cartridge")]


def test_of_what_comes_back_without_a_lot_the_item_itself_is_first(scene):
    """Worked by hand: of 3 tubes 2 came back as they are; 3 more are more than they had, so 2 cartridges."""
    stocked(scene.tube, 2)
    scene.came(4)
    handed(scene.tube, 5, scene.runs[0])
    given_back(scene.tube, 1, scene.runs[0])
    assert lying(scene.tube)["bin Store"] == 1
    given_back(scene.tube, 3, scene.runs[0])
    assert (lying(scene.tube)["bin Store [BIG]"], lying(scene.tube)["bin Store"]) == (4, 1)


def test_what_is_lent_in_pieces_is_paid_by_pieces_to_the_last_tick(scene):
    """Worked by hand: 2 at once are worth 5.5445, 1 and 1 are worth 2.7722 each, and no 0.0001 is owed."""
    scene.came(4)
    handed(scene.tube, 2, scene.runs[0], lot=BIG, lender=scene.runs[1])
    assert [debt.quantity for debt in debts(scene.site)] == [Decimal("5.5445")]
    given_back(scene.tube, 1, scene.runs[0], lot=BIG)
    given_back(scene.tube, 1, scene.runs[0], lot=BIG, number=4)
    assert debts(scene.site) == []


def test_a_part_handed_out_in_pieces_beyond_its_need_is_looked_at(scene):
    """Worked by hand: 3 cartridges are worth 8.3168 tubes, 5 of them 13.8613, and the stage needs 12."""
    assert scene.tube.usage == "fixed"
    scene.came(9)
    handed(scene.tube, 3, scene.runs[0], lot=BIG)
    with pytest.raises(AskFirstError, match=r"CB-1, seals needs 12 TUBE and has 8\.3168 already"):
        keep_one(
            site=scene.site,
            kind="issues",
            row={"id": "x", "at": at(3), "item": scene.tube, "quantity": "2", "run": scene.runs[0], "stage": "seals"}
            | {"lot": BIG},
        )


def test_the_pages_say_pieces_of_what_lies_there(scene, client):
    stocked(scene.tube, 2)
    scene.came(4)
    handed(scene.tube, 1, scene.runs[0], lot=BIG)
    client.force_login(member(scene.site, "storekeeper"))

    def shown(name, *keys):
        page = client.get(reverse_url(name, args=[scene.site.slug, *keys])).content.decode()
        return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())

    # 3 are worth 8.3168 tubes; 2 tubes lie there, too.
    item = shown("stock_item", scene.tube.pk)
    assert "usable 10 tubes" in item
    assert "handed out 2 tubes" in item
    assert "3 cartridges, worth 8.32 tubes" in item
    assert "4 cartridges" in item
    store = scene.bin()
    assert "3 cartridges, worth 8.32 tubes" in shown("stock_place", store.pk)
    assert "3 cartridges there, worth 8.32 tubes" in shown("place_act", store.pk, "move")
    assert "TUBE, cartridge" in shown("count_place", store.pk)
    pick = shown("pick_list", scene.runs[0].pk, "seals")
    assert "needs 12 tubes, has 2.772" in pick
    assert "3 cartridges , worth 8.32 tubes, Store, lot BIG" in pick
    assert "lot BIG, has 1 cartridge" in pick
    issue = Posting.objects.of(scene.site).get(kind="issue")
    assert "1 cartridge the TUBE" in shown("stock_act", issue.pk)


def test_the_list_of_stock_adds_what_pieces_are_worth(scene):
    """Worked by hand: 1 held, 3 good, 1 of them handed out, of 5 that are worth 13.8613; their last day is past."""
    scene.came(3, lot="7", expires=day(20), partial="yes")
    scene.came(1, lot="8", condition="damaged", partial="yes", again="further")
    handed(scene.tube, 1, scene.runs[0], lot="BIG 7")
    item = stock_list(scene.site).get(code="TUBE")
    handed_out = item.handed_out
    assert handed_out in (Decimal("2.7722"), Decimal("2.7723"))
    assert item.good + handed_out == Decimal("8.3168")
    assert (item.expired, item.held) == (item.good, Decimal("2.7722"))
    assert item.usable == 0 or item.usable is None


def test_what_is_sent_to_another_site_lies_there_in_the_same_pieces(scene):
    there = ItemFactory(site=SiteFactory(slug="there"), code="TUBE", unit="tube")
    scene.came(4)
    row = {"to": "there", "bin": "Store", "lot": BIG}
    report(scene.site, "sends", event="s", item=scene.tube, quantity="3", **row)
    (leaving,) = on_the_way_from(scene.site)
    assert (leaving.quantity, leaving.unit) == (3, "cartridge")
    taking = {"from": scene.site.slug, "sent": "s", "bin": "Shelf"}
    with pytest.raises(LedgerError, match="there has no item BIG counted in cartridge"):
        report(there.site, "takings_in", number=3, **taking)
    big = ItemFactory(site=there.site, code=BIG, unit="cartridge")
    report(there.site, "takings_in", number=3, **taking)
    assert lying(there)["bin Shelf [BIG]"] == 3
    lot = Lot.objects.of(there.site).get()
    assert (lot.came_item, str(lot.covers)) == (big, "280/101")
    assert sorted(worth_lying(there.site).values()) == [-83_168, 83_168]
    assert [
        fault for site in (scene.site, there.site) for proof in prove_site(site)[:5] for fault in proof.faults
    ] == []
    assert _line(scene).causes["other_site"] + _line(scene).usable == 110_891


def test_what_another_site_counts_otherwise_is_put_into_a_lot_of_its_own(scene):
    """Of lot BIG 5 tubes lie there, of another 2 in pieces, and what is sent is the other way round."""
    there = ItemFactory(site=SiteFactory(slug="there"), code="TUBE", unit="tube")
    big = ItemFactory(site=there.site, code=BIG, unit="cartridge")
    stocked(there, 5, lot=BIG)
    LotFactory(item=there, code="P", came_item=big, covers=2)
    stocked(there, 2, lot="P")
    scene.came(4)
    stocked(scene.tube, 3, lot="P")
    for number, (lot, quantity) in enumerate(((BIG, 4), ("P", 3))):
        row = {"item": scene.tube, "quantity": quantity, "to": "there", "bin": "Store", "lot": lot}
        report(scene.site, "sends", event=f"s{number}", **row)
        taking = {"from": scene.site.slug, "sent": f"s{number}", "bin": "Store"}
        report(there.site, "takings_in", number=3, **taking)
    north = scene.site.slug
    assert {place: held for place, held in lying(there).items() if held > 0} == {
        "bin Store [BIG]": 5,
        f"bin Store [{north}, BIG]": 4,
        "bin Store [P]": 2,
        f"bin Store [{north}, P]": 3,
    }
    covers = dict(Lot.objects.of(there.site).exclude(covers=1).values_list("code", "covers"))
    assert covers == {f"{north}, BIG": Fraction(280, 101), "P": 2}


def test_a_lot_of_another_supplier_is_not_mixed_either(scene):
    other = ShipmentFactory(site=scene.site, name="S-8", supplier=SupplierFactory(site=scene.site))
    received(other, counted(scene.tube, 5, lot=BIG))
    with pytest.raises(LedgerError, match="Lot BIG of TUBE came before"):
        scene.came(4)


def test_a_bin_that_is_counted_before_its_receipt_is_known_was_counted_in_pieces(scene):
    stocked(scene.tube, 3, lot=BIG)
    scene.came(4)
    assert lying(scene.tube)["bin Store [BIG]"] == 7
    assert sum(worth_lying(scene.site).values()) == 0
    assert _line(scene).usable == 110_891 * 7 // 4


def _line(scene):
    return next(line for line in reconcile(scene.site, at(28).date()).lines if line.item.code == "TUBE")


ACTS = ("came", "own", "again", "move", "hand out", "any", "back", "count", "undo")
history = st.lists(
    st.tuples(st.sampled_from(ACTS), st.integers(0, 1), st.integers(1, 5), st.integers(2, 27)), max_size=12
)


def perform(scene, act, posted):
    """Do one act; what the ledger refuses does not happen."""
    name, which, quantity, number = act
    run, where = scene.runs[which], ("Store", "Shelf")[which]
    other = ("Shelf", "Store")[which]
    tube, more = scene.tube, {"lot": BIG, "number": number}
    if name in ("came", "own"):
        instead = {"came_item": scene.cartridge} if name == "came" else {}
        told = counted(tube, quantity, bin=where, partial="yes", again="further", **instead)
        posted.append(received(scene.shipment, told, number=number).posting)
    elif name == "again":
        told = counted(tube, quantity, bin=where, again="same", came_item=scene.cartridge)
        posted.append(received(scene.shipment, told, number=number).posting)
    elif name == "move":
        posted.append(report(scene.site, "transfers", item=tube, quantity=quantity, source=where, target=other, **more))
    elif name == "hand out":
        posted.append(handed(tube, quantity, run, **more))
    elif name == "any":
        posted.append(handed(tube, quantity, run, number=number))
    elif name == "back":
        posted.append(given_back(tube, 1, run, **more))
    elif name == "count":
        posted.append(report(scene.site, "counts", item=tube, bin=where, counted=quantity, **more))
    elif posted:
        undo = posted.pop()
        reverse(site=scene.site, event_id=f"u{undo.pk}", posting=undo, at=at(28), reason="entered twice")


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts=history, day=st.integers(1, 28))
def test_worth_adds_up_to_what_the_receipts_cover_after_any_history(acts, day):
    with undone():
        scene = Sealed()
        scene.bin("Shelf")
        posted = []
        for act in acts:
            with suppress(RecordError):
                perform(scene, act, posted)
        worth = worth_lying(scene.site)
        far = set(Place.objects.of(scene.site).filter(kind=Place.Kind.SUPPLIER).values_list("pk", flat=True))
        standing = ReceiptLine.objects.of(scene.site).filter(receipt__posting__reversed_by=None)
        covers = sum(int(row.covers * 10_000) for row in standing if row.came_item_id)
        assert sum(worth.values()) == 0
        assert -sum(ticks for (place, _, _), ticks in worth.items() if place in far) == covers
        assert [fault for proof in prove_site(scene.site)[:5] for fault in proof.faults] == []
        for on in (day, 28):
            reconcile(scene.site, at(on).date())  # raises where causes do not add up
        line = _line(scene)
        counts = sum(int(row.covers * 10_000) for row in standing)
        short = 400_000 - counts
        closed = any(not row.partial for row in standing)
        assert line.causes["short_at_count"] == (short if closed else min(0, short)), "no crumb of it"

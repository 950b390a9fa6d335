"""The same goods counted again, further goods, and what nobody told apart."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from kits.audit.proofs import prove_site
from kits.models import Posting
from kits.receiving.queries import delivery_report
from kits.stock.books.errors import CountedBeforeError, LedgerError
from takeoff.models import Place, Record, Site
from takeoff.records.decoding import Sent
from takeoff.records.services import take
from tests.factories.kits import PackageFactory, PackingLineFactory, ShipmentFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory, member
from tests.kits.makers import at, counted, handed, kept, lying, moves_of, received, reverse, stocked

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory(slug="north")


@pytest.fixture
def item(site):
    return ItemFactory(site=site, code="LUG")


@pytest.fixture
def shipment(site):
    return ShipmentFactory(site=site, name="S1")


def again(quantity, **more):
    return {"again": "same", **more, "counted": quantity}


def figures(shipment) -> tuple[int, ...]:
    """Good, damaged and short of the one line of a packing list, whole."""
    (line,) = delivery_report(shipment).lines
    return tuple(ticks // 10_000 for ticks in (line.report.good, line.report.damaged, line.report.short))


def proved(site) -> bool:
    return all(proof.holds for proof in prove_site(site))


def test_who_counts_what_was_counted_must_say_whether_it_is_the_same(item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    received(shipment, counted(item, 10))
    with pytest.raises(CountedBeforeError) as asked:
        received(shipment, counted(item, 10), number=3)
    assert str(asked.value) == (
        "LUG of S1 was counted before, 10 each on 2026-03-02: are these the same goods counted again, or further goods?"
    )
    assert asked.value.column == "again"
    assert lying(item)["bin Store"] == 10


def test_the_same_goods_counted_again_replace_what_was_counted(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    first = received(shipment, counted(item, 10)).posting
    second = received(shipment, counted(item, 7, again="same"), number=3).posting
    assert lying(item) == {"supplier Supplier": -7, "bin Store": 7}
    assert figures(shipment) == (7, 0, 3)
    replaced = Posting.objects.get(reverses=first)
    assert (replaced.kind, replaced.at, replaced.reason) == (
        "replaced",
        second.at,
        f"{second.event_id} counted the same goods again",
    )
    assert moves_of(replaced) == [("Store", "Supplier", 10, "")]
    assert proved(site)


def test_further_goods_add_up(item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    received(shipment, counted(item, 7))
    received(shipment, counted(item, 3, again="further"), number=3)
    assert lying(item)["bin Store"] == 10
    assert figures(shipment) == (10, 0, 0)


def test_good_and_damaged_of_one_moment_are_one_count_and_are_replaced_together(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    received(shipment, counted(item, 7), counted(item, 3, condition="damaged"))
    received(shipment, counted(item, 9, again="same"), counted(item, 1, condition="damaged", again="same"), number=3)
    assert figures(shipment) == (9, 1, 0)
    assert (lying(item)["bin Store"], kept(item, Place.Kind.QUARANTINE)) == (9, 1)
    assert proved(site)


def test_what_was_taken_as_listed_and_is_opened_later_is_counted_once(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=100)
    received(shipment, counted(item, 100, condition="not opened"))
    received(shipment, counted(item, 97), number=9)
    assert (lying(item)["bin Store"], figures(shipment)) == (97, (97, 0, 3))
    assert proved(site)


@pytest.mark.parametrize("count", [12, 9])
def test_after_most_was_handed_out_a_count_again_goes_through(site, item, shipment, count):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    received(shipment, counted(item, 10))
    handed(item, 9, RunFactory(site=site))
    received(shipment, counted(item, count, again="same"), number=4)
    assert lying(item).get("bin Store", 0) == count - 9
    assert proved(site)


def test_fewer_than_were_handed_out_cannot_have_come(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    received(shipment, counted(item, 10))
    handed(item, 9, RunFactory(site=site))
    with pytest.raises(LedgerError, match="at least 9 each came") as refused:
        received(shipment, counted(item, 8, again="same"), number=4)
    assert refused.value.column == "counted"
    assert lying(item)["bin Store"] == 1
    assert figures(shipment) == (10, 0, 0)


def test_one_package_is_counted_again_by_itself(site, item, shipment):
    crate, pallet = (PackageFactory(shipment=shipment, name=name) for name in ("crate 1", "pallet"))
    for package in (crate, pallet):
        PackingLineFactory(shipment=shipment, item=item, package=package, quantity=10)
    received(shipment, counted(item, 10, package=crate), counted(item, 8, package=pallet))
    received(shipment, counted(item, 9, package=crate, again="same"), number=3)
    short = [line.report.short // 10_000 for line in delivery_report(shipment).lines]
    assert (lying(item)["bin Store"], short) == (17, [1, 2])
    received(shipment, counted(item, 20, again="same"), number=4)
    assert lying(item)["bin Store"] == 20
    with pytest.raises(CountedBeforeError, match="over all packages: count it again over all packages") as asked:
        received(shipment, counted(item, 9, package=crate, again="same"), number=5)
    assert asked.value.column == "package"
    assert proved(site)


def test_what_no_list_names_is_counted_again_too(site, item, shipment):
    received(shipment, counted(item, 10))
    with pytest.raises(CountedBeforeError, match="counted before, 10 each on 2026-03-02"):
        received(shipment, counted(item, 10), number=3)
    received(shipment, counted(item, 4, again="same"), number=3)
    assert lying(item)["bin Store"] == 4
    assert proved(site)


def test_a_wrong_item_counted_again_takes_back_what_had_come_instead(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    other = ItemFactory(site=site, code="NUT")
    received(shipment, counted(item, 10, condition="wrong item", came_item=other))
    received(shipment, counted(item, 10, again="same"), number=3)
    assert (lying(other), lying(item)["bin Store"]) == ({}, 10)
    assert proved(site)


def test_a_bin_counted_in_between_keeps_its_figure(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    received(shipment, counted(item, 10))
    stocked(item, 10, number=3)
    received(shipment, counted(item, 8, again="same"), number=4)
    assert lying(item)["bin Store"] == 8
    assert proved(site)


def test_a_bin_counted_at_the_moment_of_the_count_again_keeps_its_figure(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    received(shipment, counted(item, 10))
    stocked(item, 8, number=4)
    received(shipment, counted(item, 8, again="same"), number=4)
    assert lying(item)["bin Store"] == 8
    assert proved(site)


def test_a_count_that_comes_after_the_one_that_replaced_it_changes_nothing(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    received(shipment, counted(item, 8, again="same"), number=4)
    received(shipment, counted(item, 10), number=2)
    assert (lying(item)["bin Store"], figures(shipment)) == (8, (8, 0, 2))
    assert proved(site)


def test_a_count_again_that_is_taken_back_leaves_the_line_not_counted(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    received(shipment, counted(item, 10))
    second = received(shipment, counted(item, 7, again="same"), number=3).posting
    reverse(site=site, event_id="undo", posting=second, at=at(4), reason="wrong tap")
    assert lying(item) == {}
    assert proved(site)


def sent(site, sender, *rows):
    records = [Sent("receipts", {"shipment": "S1", "item": "LUG", **row}) for row in rows]
    return [answer.answer for answer in take(site=site, sender=sender, roles=frozenset(["storekeeper"]), sent=records)]


def test_two_phones_on_one_crate_the_first_stands_and_the_second_waits(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    sender = member(site, "storekeeper")
    assert sent(site, sender, {"id": "a", "counted": "10", "at": "2026-03-02T10:00Z"}) == ["kept"]
    assert sent(site, sender, {"id": "b", "counted": "9", "at": "2026-03-02T10:05Z"}) == ["aside"]
    assert lying(item)["bin Store"] == 10
    waiting = Record.objects.get(event_id="b").set_aside
    assert "are these the same goods counted again" in waiting.reason


def test_a_chain_of_counts_in_one_batch_ends_with_the_last(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    sender = member(site, "storekeeper")
    rows = [{"id": f"c{n}", "counted": str(10 - n), "at": f"2026-03-02T1{n}:00Z", "again": "same"} for n in range(4)]
    assert set(sent(site, sender, *rows)) == {"kept"}
    assert (lying(item)["bin Store"], figures(shipment)) == (7, (7, 0, 3))
    assert proved(site)


def test_counts_again_that_are_tried_together_later_are_each_kept_or_not(site, item, shipment):
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    received(shipment, counted(item, 10))
    handed(item, 9, RunFactory(site=site))
    sender = member(site, "storekeeper")
    rows = [
        {"id": "a", "counted": "0", "at": "2026-03-04T10:00Z", "again": "same"},
        {"id": "b", "counted": "8", "at": "2026-03-04T11:00Z", "again": "same"},
    ]
    hanging = [Sent("receipts", {"shipment": "S1", "item": "LUG", **row}, None, ("x",)) for row in rows]
    roles = frozenset(["storekeeper"])
    assert [one.answer for one in take(site=site, sender=sender, roles=roles, sent=hanging)] == ["aside"] * 2
    other = ItemFactory(site=site, code="NUT")
    row = {"id": "x", "item": other.code, "bin": "Store", "counted": "1", "at": "2026-03-04T12:00Z"}
    assert [one.answer for one in take(site=site, sender=sender, roles=roles, sent=[Sent("counts", row)])] == ["kept"]
    assert figures(shipment) == (10, 0, 0)
    assert lying(item)["bin Store"] == 1
    assert proved(site)


class AnyOrder(TestCase):
    @settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
    @given(
        st.lists(
            st.tuples(st.integers(0, 9), st.sampled_from(["same", "further"]), st.sampled_from(["", "crate", "box"])),
            min_size=1,
            max_size=5,
        ),
        st.randoms(use_true_random=False),
    )
    def test_a_line_is_its_last_count_of_the_same_goods_and_what_was_counted_since(self, counts, random):
        site = SiteFactory(slug=f"s{Site.objects.count()}")
        item, shipment = ItemFactory(site=site, code="LUG"), ShipmentFactory(site=site, name="S1")
        for name in ("crate", "box"):
            PackageFactory(shipment=shipment, name=name)
            package = shipment.packages.get(name=name)
            PackingLineFactory(shipment=shipment, item=item, package=package, quantity=10)
        # Once a count is over all packages, one package alone is not counted again.
        over_all = next((n for n, (_, _, package) in enumerate(counts) if not package), len(counts))
        said = [
            (quantity, how, "" if number >= over_all and how == "same" else package)
            for number, (quantity, how, package) in enumerate(counts)
        ]
        rows = [
            {"id": f"c{n}", "counted": str(quantity), "at": f"2026-03-02T1{n}:00Z", "again": how, "package": package}
            for n, (quantity, how, package) in enumerate(said)
        ]
        random.shuffle(rows)
        sender = member(site, "storekeeper", username=f"u{site.slug}")
        for row in rows:
            sent(site, sender, row)
        expected: dict[str, int] = {"": 0, "crate": 0, "box": 0}
        for quantity, how, package in said:
            if how == "same":
                for name in expected if not package else [package]:
                    expected[name] = 0
            expected[package] += quantity
        assert sum(expected.values()) == lying(item).get("bin Store", 0)
        assert proved(site)


def test_goods_that_are_counted_again_came_no_later(item, shipment):
    """No truck was taken in, so the first count stands for it; the clocks do not start anew with another count."""
    PackingLineFactory(shipment=shipment, item=item, quantity=10)
    received(shipment, counted(item, 9))
    (before,) = delivery_report(shipment).trucks
    received(shipment, {**counted(item, 8), "again": "same"}, number=20)
    (after,) = delivery_report(shipment).trucks
    assert after.since == before.since == at(2)

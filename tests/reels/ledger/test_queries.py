from datetime import date
from decimal import Decimal

import pytest

from reels.ledger.queries import cables, compare_conductors, conductor_entries, ledger, reel_entries, remnants
from reels.ledger.services import books_of, take_off_remnant
from reels.models import Reel
from takeoff.models import Conductor
from takeoff.units.exact import to_ticks
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, RunFactory, SiteFactory
from tests.reels.makers import FT, at, cut, decide, make_conductors, take_back

pytestmark = pytest.mark.django_db


def feet(number) -> int:
    return to_ticks(Decimal(number) * FT)


@pytest.fixture
def site():
    return SiteFactory(whole_reels=True)


@pytest.fixture
def reel(site):
    return ReelFactory(site=site, tag="R1", outer_mark=1250, inner_mark=3740)


def one(site, tag="R1", as_of=None):
    return next(entry for entry in reel_entries(site, as_of=as_of) if entry.reel.tag == tag)


def test_a_reel_says_what_is_left_unlogged_and_disputed(site, reel):
    cut(reel, 1250, 1450, event_id="a")
    cut(reel, 1440, 1500, event_id="b")
    cut(reel, 1510, 1600, event_id="c")
    entry = one(site)
    assert (entry.left, entry.unlogged, entry.whole) == (feet(2140), feet(10), False)
    assert entry.books.disputed == {"a", "b"}
    assert [made.event_id for made in entry.cuts] == ["a", "b", "c"]


def test_an_untouched_reel_is_whole(site, reel):
    assert one(site).whole
    assert one(site).left == feet(2490)


def test_a_reversed_cut_never_happened(site, reel):
    made = cut(reel, 1250, 1450).cut
    decide(made, "reversed", event_id="D", reason="wrong reel", at=at(3))
    assert one(site).left == feet(2490)
    assert one(site, as_of=date(2026, 3, 2)).left == feet(2290)


def test_a_cut_of_another_cable_no_longer_serves_a_conductor_whose_cable_was_changed(site, reel):
    run = RunFactory(site=site, measured=True)
    (conductor,) = make_conductors(run, 100, "A1")
    cut(reel, 1250, 1350, conductor=conductor)
    assert conductor_entries(site, conductors=Conductor.objects.of(site))[0].is_cut
    Conductor.objects.of(site).update(cable=CableFactory(site=site, code="250-CU", size="250"))
    (entry,) = conductor_entries(site, conductors=Conductor.objects.of(site))
    assert (entry.is_cut, entry.cuts, one(site).left) == (False, (), feet(2390))


def test_the_books_as_of_a_day_end_with_that_day_on_site():
    site = SiteFactory(timezone="America/Chicago", whole_reels=True)
    reel = ReelFactory(site=site, tag="R1", outer_mark=0, inner_mark=1000)
    cut(reel, 0, 100, at=at(3, hour=5))  # 23:00 on the 2nd in Chicago
    cut(reel, 100, 200, at=at(3, hour=7))
    assert one(site, as_of=date(2026, 3, 1)).left == feet(1000)
    assert one(site, as_of=date(2026, 3, 2)).left == feet(900)
    assert one(site, as_of=date(2026, 3, 3)).left == feet(800)


def test_what_cannot_be_relied_on_is_not_usable():
    site = SiteFactory(mark_allowance=Decimal("0.01"), safety_tail=FT, whole_reels=True)
    reel = ReelFactory(site=site, tag="R1", outer_mark=0, inner_mark=1010)
    ReelFactory(site=site, tag="P", feet=500)
    # (1010 - 1) × 0.99, the tail up to 0.01 ft.
    assert one(site).usable == feet("998.91")
    assert one(site, "P").usable == feet(499)
    cut(reel, 0, 100, taped=100)
    assert one(site).usable == feet(909)


def test_a_conductor_is_cut_by_a_cut_that_is_long_enough(site, reel):
    a1, a2, a3 = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 200, "A1", "A2", "A3")
    cut(reel, 1250, 1450, conductor=a1)
    cut(reel, 1450, "1649.75", conductor=a2)
    entries = ledger(site).conductors
    assert [entry.conductor for entry in entries] == [a1, a2, a3]
    assert [entry.is_cut for entry in entries] == [True, False, False]
    assert [entry.short_by for entry in entries] == [0, feet("0.25"), 0]


def test_a_cut_by_marks_is_as_long_as_the_reels_own_factor_says(site, reel):
    a1, a2 = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 200, "A1", "A2")
    cut(reel, 1250, 1450, taped=202, conductor=a1)
    # 198.1 marks at 1.01 ft each are 200.081 ft, once a second tape says so, too.
    cut(reel, 1550, "1748.1", conductor=a2)
    assert [entry.is_cut for entry in ledger(site).conductors] == [True, False]
    cut(reel, 1450, 1550, taped=101)
    assert [entry.is_cut for entry in ledger(site).conductors] == [True, True]


def test_a_withdrawn_cut_opens_its_need_again_and_its_cable_stays_off_the_reel(site, reel):
    a1 = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 200, "A1")[0]
    made = cut(reel, 1250, 1450, conductor=a1).cut
    decide(made, "withdrawn", event_id="D", reason="jacket torn", at=at(4), piece_tag="R1-P")
    books = ledger(site)
    assert not books.conductors[0].is_cut
    assert {entry.reel.tag: entry.left for entry in books.reels} == {"R1": feet(2290), "R1-P": feet(200)}
    assert not next(entry for entry in books.reels if entry.reel.tag == "R1-P").whole
    assert ledger(site, as_of=date(2026, 3, 3)).conductors[0].is_cut


def test_an_accepted_short_cut_serves_while_the_least_stick_out_holds(site, reel):
    a1 = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 200, "A1", least=198)[0]
    made = cut(reel, 1250, 1449, conductor=a1).cut
    assert not ledger(site).conductors[0].is_cut
    decide(made, "accepted", event_id="D", reason="stick-out allows", at=at(4))
    assert ledger(site).conductors[0].is_cut
    Conductor.objects.of(site).update(least_length=199 * FT + 1)
    assert not ledger(site).conductors[0].is_cut


def test_the_longest_of_two_cuts_counts(site, reel):
    a1 = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 200, "A1")[0]
    cut(reel, 1250, 1440, conductor=a1)
    cut(reel, 1440, 1640, conductor=a1)
    entry = ledger(site).conductors[0]
    assert (entry.is_cut, entry.length, len(entry.cuts)) == (True, feet(200), 2)


def test_conductors_of_one_run_are_read_without_the_others(site, reel, django_assert_num_queries):
    a1 = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 200, "A1")[0]
    b1 = make_conductors(RunFactory(site=site, name="BUS-2", measured=True), 200, "B1")[0]
    cut(reel, 1250, 1450, taped=202, conductor=b1)
    cut(reel, 1450, 1550, taped=101)
    cut(reel, 1550, "1748.1", conductor=a1)
    with django_assert_num_queries(10):
        [entry] = conductor_entries(site, conductors=Conductor.objects.of(site).filter(run=a1.run))
    assert (entry.conductor, entry.is_cut) == (a1, True)


def test_a_cable_adds_up_what_is_needed_cut_and_on_reels(site, reel):
    run = RunFactory(site=site, name="BUS-1", planned=date(2026, 4, 1), measured=True)
    a1, *_ = make_conductors(run, 200)
    make_conductors(RunFactory(site=site, name="BUS-2", planned=date(2026, 5, 1), measured=True), 1300, "A1", "A2")
    ReelFactory(site=site, tag="COMING", outer_mark=0, inner_mark=900, state="on the way")
    ReelFactory(site=site, tag="HELD", outer_mark=0, inner_mark=900, state="held")
    ReelFactory(site=site, tag="OTHER", feet=900, cable=CableFactory(site=site, code="350-CU", size="350"))
    cut(reel, 1250, 1450, conductor=a1)
    by_code = {entry.cable.code: entry for entry in cables(site)}
    entry = by_code["500-CU"]
    assert (entry.need, entry.cut, entry.open) == (feet(3800), feet(200), feet(3600))
    assert (entry.on_reels, entry.on_the_way) == (feet(2290), feet(900))
    assert (by_code["350-CU"].need, by_code["350-CU"].on_reels) == (0, feet(900))


def test_a_remnant_is_counted_once(site, reel):
    cut(reel, 1250, 3640)
    take_off_remnant(site=site, reel=reel, tag="R1-A")
    [entry] = cables(site)
    assert entry.on_reels == feet(100)


def test_a_set_is_compared_by_tape_or_within_one_reel(site, reel):
    a1, a2, b1, b2 = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 200, "A1", "A2", "B1", "B2")
    other = ReelFactory(site=site, tag="R2", outer_mark=0, inner_mark=1000)
    cut(reel, 1250, 1450, conductor=a1)
    cut(reel, 1450, 1650, conductor=a2)
    cut(reel, 1650, 1850, conductor=b1)
    cut(other, 0, 200, conductor=b2)
    said = compare_conductors(site, ledger(site).conductors)
    assert {key: str(value) for key, value in said.items()} == {
        ("BUS-1", "A"): "equal by one reel",
        ("BUS-1", "B"): "cannot be verified",
    }


def test_the_books_take_the_same_queries_for_two_reels_and_for_twenty(site, django_assert_num_queries):
    run = RunFactory(site=site, name="BUS-1", measured=True)
    for number in range(2):
        add_reel(site, run, number)
    with django_assert_num_queries(10):
        ledger(site)
    for number in range(2, 20):
        add_reel(site, run, number)
    with django_assert_num_queries(10):
        assert len(ledger(site).reels) == 20
    with django_assert_num_queries(11):
        cables(site)


def add_reel(site, run, number):
    conductor = make_conductors(run, 100, f"A{number + 1}")[0]
    cut(ReelFactory(site=site, tag=f"R{number}", outer_mark=0, inner_mark=1000), 0, 100, conductor=conductor)


def test_remnants_are_found_across_sites(site, reel):
    elsewhere = SiteFactory(slug="elsewhere", whole_reels=True)
    cut(reel, 1250, 3640)
    piece = take_off_remnant(site=site, reel=reel, tag="R1-A")
    started = ReelFactory(site=site, tag="R2", outer_mark=0, inner_mark=500)
    cut(started, 0, 100)
    scrap = ReelFactory(site=site, tag="R3", outer_mark=0, inner_mark=100)
    cut(scrap, 0, 71)
    ReelFactory(site=site, tag="WHOLE", feet=500)
    there = ReelFactory(site=elsewhere, tag="X", outer_mark=0, inner_mark=100)
    cut(there, 0, 16)
    found = remnants([site, elsewhere])
    assert {(one.site, tuple(entry.reel.tag for entry in one.entries)) for one in found} == {
        (site, ("R2", piece.tag)),
        (elsewhere, ("X",)),
    }
    assert remnants([elsewhere])[0].entries[0].left == feet(84)


def test_a_late_cut_off_the_parent_is_asked_about_and_gone_from_the_remnant(site, reel):
    cut(reel, 1250, 1450)
    remnant = take_off_remnant(site=site, reel=reel, tag="R1-A")
    said = cut(reel, 1450, 1550, event_id="late").warnings
    assert "Marks 1450 to 1550 are claimed by piece R1-A too: two records overlap." in said
    [entry] = reel_entries(site, reels=Reel.objects.filter(pk=remnant.pk))
    assert (entry.reel, entry.left) == (remnant, feet(2190))
    assert {one.reel.tag: one.left for one in reel_entries(site)} == {"R1": 0, "R1-A": feet(2190)}


def test_a_cut_without_marks_after_the_remnant_was_taken_off_is_asked_about(site, reel):
    cut(reel, 1250, 1450)
    remnant = take_off_remnant(site=site, reel=reel, tag="R1-A")
    assert "take more from reel R1 than the pieces off it left there" in " ".join(cut(reel, taped=50).warnings)
    assert books_of(site, remnant).left == feet(2240)


def test_a_piece_is_no_dispute_with_the_cut_that_failed_and_gone_once_that_is_taken_back(site, reel):
    made = cut(reel, 1250, 1450, taped=199).cut
    piece = decide(made, "withdrawn", event_id="W", piece_tag="R1-P1").piece
    assert (books_of(site, piece).left, books_of(site, reel).disputes) == (feet(199), ())
    [before] = reel_entries(site, reels=Reel.objects.filter(pk=piece.pk), as_of=date(2026, 3, 2))
    assert before.left == 0, "not withdrawn yet on that day"
    take_back(site, "W")
    assert books_of(site, piece).left == 0

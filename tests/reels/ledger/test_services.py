from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction

from reels.ledger.marks.content import CutError
from reels.ledger.queries import conductor_entries
from reels.ledger.services import save_reel, take_off_remnant
from reels.models import Cut, CutDecision, Reel
from takeoff.models import Conductor
from takeoff.records.decoding import Sent
from takeoff.records.services import take
from takeoff.records.terms.errors import AskFirstError, MalformedError, OtherContentError, RecordError
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, PlaceFactory, RunFactory, SiteFactory, UserFactory
from tests.reels.makers import FT, at, cut, cut_row, decide, make_conductors, take_back

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory(whole_reels=True)


@pytest.fixture
def reel(site):
    return ReelFactory(site=site, tag="R1", outer_mark=1250, inner_mark=3740)


@pytest.fixture
def conductor(site):
    return make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 200, "A1")[0]


def test_a_cut_by_marks_has_the_length_of_its_marks(reel):
    made = cut(reel, 1250, 1450).cut
    assert made.length == 200 * FT
    assert (made.outer_mark, made.inner_mark, made.taped) == (1250, 1450, False)


def test_marks_are_kept_with_the_outer_one_first_whichever_was_named_first(site):
    falling = ReelFactory(site=site, outer_mark=3740, inner_mark=1250)
    made = cut(falling, 3540, 3740).cut
    assert (made.outer_mark, made.inner_mark) == (3740, 3540)


def test_a_taped_length_is_believed_over_the_marks(reel):
    assert cut(reel, 1250, 1450, taped="198.5").cut.length == Decimal("198.5") * FT


def test_the_same_cut_sent_twice_is_recorded_once(site, reel):
    first = cut(reel, 1250, 1450, event_id="C-1")
    assert cut(reel, 1250, 1450, event_id="C-1").cut == first.cut
    assert Cut.objects.of(site).count() == 1


def test_the_same_id_with_other_content_is_refused_and_names_the_correction(site, reel):
    cut(reel, 1250, 1450, event_id="C-1")
    with pytest.raises(OtherContentError, match="take the cut back and report it under a new id") as caught:
        cut(reel, 1250, 1451, event_id="C-1")
    assert (caught.value.code, caught.value.column) == ("content_differs", "id")
    assert Cut.objects.of(site).get().inner_mark == 1450


@pytest.mark.parametrize(
    "change",
    [{"at": at(3)}, {"purpose": "damage"}, {"taped": 199}, {"by": "J"}, {"outer": 1251}],
    ids=lambda change: next(iter(change)),
)
def test_every_word_of_a_cut_is_content(reel, change):
    said = {"reel": reel, "outer": 1250, "inner": 1450, "event_id": "C-1"}
    cut(**said)
    with pytest.raises(OtherContentError):
        cut(**{**said, **change})


def test_one_id_may_be_used_on_two_sites(reel):
    other = ReelFactory(site=SiteFactory(whole_reels=True), outer_mark=0, inner_mark=100)
    cut(reel, 1250, 1260, event_id="C-1")
    assert cut(other, 0, 10, event_id="C-1").cut.site == other.site


@pytest.mark.parametrize(("outer", "inner"), [(1249, 1300), (3700, 3741), (1300, 1300)])
def test_a_cut_off_the_reels_marks_is_refused(reel, outer, inner):
    with pytest.raises(CutError, match="cannot be on reel R1") as caught:
        cut(reel, outer, inner)
    assert caught.value.expected == "reel R1 has marks from 1250 to 3740 ft"


def test_a_cut_needs_marks_or_a_length(reel):
    with pytest.raises(CutError, match="needs its two marks or its taped length"):
        cut(reel)
    with pytest.raises(CutError, match="an outer and an inner mark, or neither"):
        cut(reel, 1250)
    with pytest.raises(MalformedError, match="above 0"):
        cut(reel, taped=0)


def test_a_reel_without_marks_takes_taped_cuts_only(site):
    plain = ReelFactory(site=site, tag="P", feet=500)
    assert cut(plain, taped=100).cut.outer_mark is None
    with pytest.raises(CutError, match="has no printed marks"):
        cut(plain, 10, 20)
    with pytest.raises(CutError, match="longer than all of reel P"):
        cut(plain, taped=501)


def test_overlapping_cuts_are_asked_about_and_then_kept(site, reel):
    cut(reel, 1250, 1450, event_id="C-1")
    with pytest.raises(AskFirstError) as caught:
        cut(reel, 1400, 1500, event_id="C-2", confirmed=False)
    said = ("Marks 1400 to 1450 are claimed by cut C-1 too: two records overlap.",)
    assert caught.value.said == said
    assert Cut.objects.of(site).count() == 1
    assert cut(reel, 1400, 1500, event_id="C-2").warnings == said
    assert Cut.objects.of(site).count() == 2


def test_a_cut_shorter_than_needed_is_asked_about(site, reel, conductor):
    with pytest.raises(AskFirstError, match="shorter than BUS-1 A1 needs and does not serve it"):
        cut(reel, 1250, 1449, conductor=conductor, confirmed=False)
    assert cut(reel, 1250, 1450, conductor=conductor, confirmed=False).cut.conductor == conductor


def test_a_cut_for_a_conductor_that_is_cut_is_asked_about(reel, conductor):
    cut(reel, 1250, 1450, conductor=conductor)
    with pytest.raises(AskFirstError, match="BUS-1 A1 was cut before"):
        cut(reel, 1450, 1650, conductor=conductor, confirmed=False)


def test_a_cut_that_takes_more_than_is_left_is_asked_about(site):
    plain = ReelFactory(site=site, tag="P", feet=500)
    cut(plain, taped=300)
    with pytest.raises(AskFirstError, match="take more from reel P than it held"):
        cut(plain, taped=300, confirmed=False)


def test_a_cut_off_a_reel_that_is_not_here_is_asked_about(site):
    coming = ReelFactory(site=site, tag="P", outer_mark=0, inner_mark=100, state="on the way")
    with pytest.raises(AskFirstError, match="said to be on the way"):
        cut(coming, 0, 10, confirmed=False)


def test_a_conductor_needs_its_own_cable(site, conductor):
    other = ReelFactory(site=site, tag="X", feet=500, cable=CableFactory(site=site, code="350-CU", size="350"))
    with pytest.raises(CutError, match="Reel X holds 350-CU, BUS-1 A1 needs 500-CU"):
        cut(other, taped=200, conductor=conductor)


def test_a_conductor_whose_cable_nobody_named_may_come_off_any_reel(site, reel, conductor):
    conductor.cable = None
    conductor.save()
    assert cut(reel, 1250, 1450, conductor=conductor).cut.conductor == conductor


def test_the_purpose_and_the_conductor_go_together(reel, conductor):
    with pytest.raises(CutError, match="A cut for a conductor names its run"):
        cut(reel, 1250, 1300, purpose="conductor")
    with pytest.raises(CutError, match="A trim is for no conductor"):
        cut(reel, 1250, 1300, purpose="trim", conductor=conductor)
    with pytest.raises(CutError, match="BUS-1 has no conductor"):
        cut(reel, 1250, 1300, purpose="conductor", run=conductor.run)


def test_nothing_crosses_sites(conductor):
    foreign = ReelFactory(site=SiteFactory(whole_reels=True), tag="F", outer_mark=0, inner_mark=500)
    with pytest.raises(RecordError, match="There is no run BUS-1 here"):
        cut(foreign, 0, 200, conductor=conductor)


def sent(rows):
    return [Sent("cuts", row) for row in rows]


def test_many_cuts_are_recorded_in_a_fixed_number_of_queries(site, reel, django_assert_max_num_queries):
    user = UserFactory()
    rows = [cut_row(reel, 1250 + n, 1251 + n, event_id=f"C-{n}") for n in range(200)]
    rows = [{**row, "reel": reel.tag, "at": row["at"].isoformat()} for row in rows]
    with django_assert_max_num_queries(31):
        answers = take(site=site, sender=user, roles=frozenset({"foreman"}), sent=sent(rows))
    assert {(answer.answer, answer.said) for answer in answers} == {("kept", ())}
    with django_assert_max_num_queries(11):
        answers = take(site=site, sender=user, roles=frozenset({"foreman"}), sent=sent(rows))
    assert {answer.answer for answer in answers} == {"known"}


def test_among_many_cuts_each_bad_one_carries_its_reason(site, reel):
    rows = [
        cut_row(reel, 1250, 1300, event_id="good"),
        cut_row(reel, 100, 200, event_id="bad"),
        cut_row(reel, 1250, 1300, event_id="good"),
        cut_row(reel, 1300, 1301, event_id="good"),
    ]
    answers = take(site=site, sender=UserFactory(), roles=frozenset({"foreman"}), sent=sent(rows))
    assert [answer.answer for answer in answers] == ["kept", "aside", "known", "refused"]
    assert "cannot be on reel R1" in answers[1].said[0]


def test_overlaps_are_told_whatever_order_the_records_come_in(site, reel):
    rows = [cut_row(reel, 1400, 1500, event_id="b"), cut_row(reel, 1250, 1450, event_id="a")]
    answers = take(site=site, sender=UserFactory(), roles=frozenset({"foreman"}), sent=sent(rows))
    assert [(answer.answer, answer.said) for answer in answers] == [
        ("look", ("Marks 1400 to 1450 are claimed by cut a too: two records overlap.",)),
        ("look", ("Marks 1400 to 1450 are claimed by cut b too: two records overlap.",)),
    ]


def test_the_database_keeps_what_was_cut(reel):
    made = cut(reel, 1250, 1450).cut
    for change in (made.delete, lambda: made.reel.cuts.update(length=1)):
        with pytest.raises(DatabaseError, match="withdraw it or reverse it"), transaction.atomic():
            change()


def test_taking_a_cut_back_twice_changes_nothing(reel):
    made = cut(reel, 1250, 1450).cut
    why = "typed on the wrong reel"
    assert decide(made, "reversed", event_id="D-1", reason=why) == decide(made, "reversed", event_id="D-1", reason=why)
    with pytest.raises(CutError, match="is reversed already: typed on the wrong reel"):
        decide(made, "reversed", event_id="D-2")
    with pytest.raises(CutError, match="is reversed already: typed on the wrong reel"):
        decide(made, "withdrawn", event_id="D-3")


def test_a_decision_needs_a_reason(reel):
    with pytest.raises(MalformedError, match="Expected a value: Why"):
        decide(cut(reel, 1250, 1450).cut, "reversed", event_id="D", reason=" ")


def test_a_withdrawn_cut_leaves_a_tagged_piece(site, reel):
    made = cut(reel, 1250, 1450).cut
    said = {"event_id": "D-1", "reason": "jacket torn", "piece_tag": "R1-P1"}
    piece = decide(made, "withdrawn", **said).piece
    assert (piece.tag, piece.length, piece.parent, piece.outer_mark) == ("R1-P1", 200 * FT, reel, 1250)
    assert decide(made, "withdrawn", **said).piece == piece
    with pytest.raises(CutError, match="Tag R1-P1 is in use already"):
        decide(cut(reel, 1450, 1460).cut, "withdrawn", **{**said, "event_id": "D-2"})
    assert CutDecision.objects.of(site).count() == 1


def test_a_short_cut_is_accepted_while_it_can_be_terminated(site, reel):
    conductor = make_conductors(RunFactory(site=site, name="BUS-2", measured=True), 200, "A1", least=198)[0]
    close = cut(reel, 1250, 1449, conductor=conductor).cut
    assert decide(close, "accepted", event_id="D-1").kind == "accepted"
    short = cut(reel, 1450, 1647, conductor=conductor).cut
    with pytest.raises(CutError, match="cannot be terminated below"):
        decide(short, "accepted", event_id="D-2")
    with pytest.raises(CutError, match="is for no conductor"):
        decide(cut(reel, 1700, 1710).cut, "accepted", event_id="D-3")


def test_a_remnant_off_its_reel_has_its_own_tag_marks_and_place(site, reel):
    cut(reel, 1250, 3640)
    place = PlaceFactory(site=site, name="YARD")
    remnant = take_off_remnant(site=site, reel=reel, tag="R1-A", place=place)
    assert (remnant.length, remnant.outer_mark, remnant.inner_mark) == (100 * FT, 3640, 3740)
    assert (remnant.parent, remnant.place, remnant.cable) == (reel, place, reel.cable)
    reel.refresh_from_db()
    assert reel.state == "empty"
    with pytest.raises(CutError, match="Nothing is left"):
        take_off_remnant(site=site, reel=reel, tag="R1-B")


def test_a_reels_marks_cannot_be_changed_away_from_its_cuts(site, reel):
    cut(reel, 1250, 1450)
    reel.outer_mark = Decimal(1300)
    with pytest.raises(CutError, match="does not lie on the reel"):
        save_reel(site=site, reel=reel)
    reel.outer_mark = Decimal(1200)
    save_reel(site=site, reel=reel)
    reel.refresh_from_db()
    assert reel.outer_mark == 1200


def test_a_reel_is_saved_whole_or_not_at_all(site):
    bad = Reel(site=site, tag="R9", cable=CableFactory(site=site), length=0)
    with pytest.raises(ValidationError, match="reel_length_above_zero"):
        save_reel(site=site, reel=bad)
    same = Reel(site=site, tag="R9", cable=CableFactory(site=site), length=10, outer_mark=5, inner_mark=5)
    with pytest.raises(CutError, match="are the same"):
        save_reel(site=site, reel=same)


def test_a_decision_is_taken_back_by_its_id_and_can_be_made_anew(site, reel):
    conductor = make_conductors(RunFactory(site=site, name="BUS-2", measured=True), 200, "A1", least=198)[0]
    made = cut(reel, 1250, 1450, conductor=conductor).cut

    def is_cut(as_of=None):
        [entry] = conductor_entries(site, conductors=Conductor.objects.of(site).filter(pk=conductor.pk), as_of=as_of)
        return entry.is_cut

    piece = decide(made, "withdrawn", event_id="D-1", piece_tag="P-1").piece
    assert not is_cut()
    back = take_back(site, "D-1", number=5)
    piece.refresh_from_db()
    assert (is_cut(), is_cut(at(4).date()), piece.state, back.takes_back.event_id) == (True, False, "empty", "D-1")
    with pytest.raises(CutError, match="withdrawn was taken back before: said so"):
        take_back(site, "D-1", event_id="again")
    decide(made, "withdrawn", event_id="D-2", piece_tag="P-2", at=at(6))
    assert not is_cut()


def test_a_withdrawal_whose_piece_was_cut_since_is_not_taken_back(site, reel):
    piece = decide(cut(reel, 1250, 1450).cut, "withdrawn", event_id="D-1", piece_tag="P-1").piece
    made = cut(piece, 1250, 1300).cut
    with pytest.raises(CutError, match="Piece P-1 was cut since: take its cuts back first"):
        take_back(site, "D-1")
    decide(made, "reversed", event_id="D-2")
    assert take_back(site, "D-1").kind == "withdrawn"

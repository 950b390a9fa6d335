"""What the crew reads: its list, the marks to cut at, and what is not on it."""

import re
from decimal import Decimal

import pytest

from reels.planner.options import Options
from reels.plans.services import accept_plan
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, RunFactory, SiteFactory
from tests.reels.makers import FT, cut, make_conductors
from tests.reels.plans.web import person, planned, text_of, url

pytestmark = pytest.mark.django_db


def test_the_crews_list_has_marks_by_allowance_and_then_by_the_reels_factor(cable, planner):
    # Worked in docs/reels.md: 200 ft by a factor of 0.99 (198 ft taped over 200 marks) from 1450 ends at 1652.1.
    site = SiteFactory(slug="marks", mark_allowance=Decimal("0.01"), marks_as="tenths", whole_reels=True)
    client = person(site, "foreman")
    cable = CableFactory(site=site)
    first, second = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 198, "A1") + make_conductors(
        RunFactory(site=site, name="BUS-2", measured=True), 200, "A1"
    )
    reel = ReelFactory(site=site, tag="R1", outer_mark=1250, inner_mark=3740)
    plan = accept_plan(site=site, plan=planned(site, cable))
    page = url("cut_list", site, cable.pk)
    # By allowance: 1250 + 198 × 1.01 = 1449.98, read at 1450.0; 1250 + 200 × 1.01 = 1452.0.
    next_mark = {198: "1450.0", 200: "1452.0"}[int(plan.cuts.get(seq=1).length / FT)]
    assert f"1250.0 ft {next_mark} ft" in text_of(client.get(page, {"by": "run"}))
    cut(reel, 1250, 1450, taped=198, conductor=first)
    said = text_of(client.get(page))
    assert "1450.0 ft 1652.1 ft" in said
    assert "✓ cut 2 Mar" in said
    assert "Factor of its marks, by its taped cuts: 0.9900" in said
    assert second.cuts.count() == 0


def test_the_crews_list_warns_of_a_plan_that_nobody_accepted_and_carries_the_cautions(site, cable):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    plan = planned(site, cable)
    client = person(site, "foreman")
    said = text_of(client.get(url("cut_list", site, cable.pk)))
    assert "Do not cut from this list" in said
    for caution in ("heavy and roll", "spring", "lifting plan governs"):
        assert caution in said
    assert said.count("lifting plan") == 1
    accept_plan(site=site, plan=plan)
    assert "Do not cut" not in text_of(client.get(url("cut_list", site, cable.pk)))


def test_the_crew_is_not_sent_to_a_reel_that_is_on_the_way(site, cable):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1", "A2", "A3")
    ReelFactory(site=site, tag="A-LATE", outer_mark=0, inner_mark=100, state="on the way")
    ReelFactory(site=site, tag="B-HERE", outer_mark=0, inner_mark=200)
    plan = accept_plan(site=site, plan=planned(site, cable, Options(seconds=1.0, with_coming=True)))
    client, page = person(site, "foreman"), url("cut_list", site, cable.pk)
    said = text_of(client.get(page))
    assert "3 cuts to make, 1 of them off reels that are not here yet" in said
    here, late = said.index("B-HERE"), said.index("A-LATE")
    assert here < late, "reels that are here come first"
    assert "on the way: not here yet" in said[late:]
    assert "100 ft →" in said[here:late]
    assert "→" not in said[late:], "no mark to cut at"
    said = text_of(client.get(page, {"by": "run"}))
    assert said.index("B-HERE") < said.index("A-LATE")
    assert "A-LATE on the way: not here yet" in said
    plan.cuts.first().reel.__class__.objects.of(site).filter(tag="A-LATE").update(state="on site")
    said = text_of(client.get(page))
    assert "not here yet" not in said
    assert said.index("A-LATE") < said.index("B-HERE")


def test_the_crew_is_told_what_is_not_on_its_list(site, cable):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1", "A2", "B1")
    make_conductors(RunFactory(site=site, name="BUS-2", measured=True), 90, "A1", "A2", "A3")
    make_conductors(RunFactory(site=site, name="LONG", measured=True), 900, "A1")
    ReelFactory(site=site, tag="R1", feet=400)
    plan = accept_plan(site=site, plan=planned(site, cable))
    uncut = {(run, name) for run, name, _ in plan.unmet}
    assert {run for run, _ in uncut} == {"BUS-2", "LONG"}
    client, page = person(site, "foreman"), url("cut_list", site, cable.pk)
    said = text_of(client.get(page))
    head = said[: said.index("R1 400'")]
    assert f"{len(uncut)} lengths of 500-CU find no reel and are not on this list" in head
    assert "BUS-2" in head
    assert "LONG A1: 1 × 900' 0\"" in head
    assert "Begin no set that cannot be finished" in head
    by_run = text_of(client.get(page, {"by": "run"}))
    for run in ("BUS-2", "LONG"):
        assert re.search(rf"{run} Not on this list: [ABC0-9, –]+ find", by_run), run
    assert "BUS-1 Not on" not in by_run
    # A length that came after the plan was made has no reel in it either.
    make_conductors(RunFactory(site=site, name="NEW", measured=True), 10, "A1")
    assert "NEW A1: 1 × 10' 0\"" in text_of(client.get(page))


def test_a_list_with_a_reel_for_every_length_says_nothing_of_others(site, cable):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    accept_plan(site=site, plan=planned(site, cable))
    assert "not on this list" not in text_of(person(site, "foreman").get(url("cut_list", site, cable.pk))).lower()


def test_a_cut_off_another_reel_than_planned_is_told_as_such(site, cable):
    (a1,) = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1")
    ReelFactory(site=site, tag="R1", feet=100)
    accept_plan(site=site, plan=planned(site, cable))
    other = ReelFactory(site=site, tag="R2", feet=500)
    cut(other, taped=100, conductor=a1)
    client = person(site, "foreman")
    assert "cut 2 Mar off R2" in text_of(client.get(url("cut_list", site, cable.pk)))
    assert "BUS-1 A1 was cut off R2 instead" in text_of(client.get(url("cut_plan_cable", site, cable.pk)))


def test_lengths_and_marks_are_told_as_hands_find_them(planner):
    # 100.31 ft is 100 ft 3.72 in, taped as 100 ft 4 in; × 1.01 = 101.337 ft; 10.5 + 101.337 = 111 ft and 10.04 in.
    site = SiteFactory(slug="hands", mark_allowance=Decimal("0.01"), whole_reels=True)
    cable, run = CableFactory(site=site), RunFactory(site=site, name="BUS-1", planned="2026-12-04", measured=True)
    make_conductors(run, "100.31", "A1")
    reel = ReelFactory(site=site, tag="CLIMBS", outer_mark=Decimal("10.5"), inner_mark=150)
    accept_plan(site=site, plan=planned(site, cable))
    client, page = person(site, "foreman"), url("cut_list", site, cable.pk)
    said = text_of(client.get(page))
    assert "1 BUS-1 A1 pull 4 Dec 100' 4\" 10 ft + 6 in 111 ft + 11 in →" in said
    assert "100' 3 3/4\"" in text_of(client.get(url("cut_plan_cable", site, cable.pk))), "exact for the planner"
    said = text_of(client.get(page, {"by": "run"}))
    assert "BUS-1 Cables planned for 4 December 2026. Measured." in said
    assert "A reel is cut in its own order" in said
    reel.outer_mark, reel.inner_mark = 150, Decimal("9.5")
    reel.save()
    # 150 − 101.337 = 48.66 ft: 4.04 in on from 49, which is passed first.
    assert "150 ft 49 ft − 5 in →" in text_of(client.get(page))


def test_a_site_in_metres_reads_centimetres(planner):
    site = SiteFactory(slug="metres", unit="m", whole_reels=True)
    cable = CableFactory(site=site)
    (one,) = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 1, "A1")
    one.length = Decimal("30483")
    one.save()
    ReelFactory(site=site, tag="R1", outer_mark=200, inner_mark=300, mark_unit="m")
    accept_plan(site=site, plan=planned(site, cable))
    said = text_of(person(site, "foreman").get(url("cut_list", site, cable.pk)))
    assert "30.49 m 200 m 230 m + 49 cm →" in said
    assert "Lengths are up to the next whole centimetre" in said


def test_a_crew_is_not_given_what_is_drawn_and_not_measured(site, cable):
    make_conductors(RunFactory(site=site, name="DRAWN"), 100, "A1", "A2")
    make_conductors(RunFactory(site=site, name="BUILT", measured=True), 90, "A1")
    ReelFactory(site=site, tag="R1", outer_mark=0, inner_mark=400)
    accept_plan(site=site, plan=planned(site, cable))
    client, page = person(site, "foreman"), url("cut_list", site, cable.pk)
    said = text_of(client.get(page))
    assert "1 cut to make; 2 more wait for a measured run." in said
    assert "1 BUILT A1 pull not dated 90' 0\" 0 ft 90 ft →" in said
    for name in ("A1", "A2"):
        assert f"DRAWN {name} pull not dated 100' 0\" drawn, not measured: do not cut" in said
    assert said.count("→ ") == 2, "one cut, and what the arrow means"
    by_run = text_of(client.get(page, {"by": "run"}))
    assert re.search(r"DRAWN Drawn, not measured: do not cut\.", by_run)
    assert "Cut DRAWN to the drawing" not in by_run, "that is a planner's to say"


def test_a_planner_lets_a_run_be_cut_to_the_drawing_and_takes_it_back(site, cable, planner):
    run = RunFactory(site=site, name="DRAWN")
    make_conductors(run, 100, "A1")
    ReelFactory(site=site, tag="R1", outer_mark=0, inner_mark=400)
    accept_plan(site=site, plan=planned(site, cable))
    page, address = url("cut_list", site, cable.pk), url("choose_length", site, cable.pk, run.pk)
    assert "Cut DRAWN to the drawing" in text_of(planner.get(page, {"by": "run"}))
    given = {"way": "drawing", "reason": "fixed steel, both ends set out"}
    assert "Kept. DRAWN: cut to the drawing." in text_of(planner.post(address, given, follow=True))
    said = text_of(planner.get(page, {"by": "run"}))
    assert re.search(r"Cut to the drawing, says person-\d+, .*: fixed steel, both ends set out", said)
    assert "100 ft →" in said
    assert "do not cut" not in said
    assert "Give the reason" in text_of(planner.post(address, {"way": "drawing", "reason": " "}, follow=True))
    back = {"way": "measure", "reason": "the pad was moved"}
    assert "Kept. DRAWN: measure first." in text_of(planner.post(address, back, follow=True))
    said = text_of(person(site, "foreman").get(page, {"by": "run"}))
    assert "do not cut." in said
    assert "the pad was moved" in said
    assert person(site, "foreman").post(address, given).status_code == 403
    assert planner.post(url("choose_length", site, cable.pk, 987654), given).status_code == 404

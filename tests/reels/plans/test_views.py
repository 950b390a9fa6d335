"""Cut plans on the web: who may do what, what the pages say, and that they ask the database no more for more reels."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from reels.models import CutPlan
from reels.planner.options import Options
from reels.plans import tasks
from reels.plans.services import accept_plan, ask_for_plan, run_plan
from tests.factories.reels import CutPlanFactory, ReelFactory
from tests.factories.takeoff import CableFactory, MeasurementFactory, RunFactory, SiteFactory
from tests.reels.makers import FT, at, make_conductors
from tests.reels.plans.web import QUICK, person, planned, text_of, url

pytestmark = pytest.mark.django_db
ASKED = {
    "order": "rates",
    "rate_whole": "10",
    "rate_remnant": "2",
    "rate_setup": "0.2",
    "reels": "here",
    "seconds": "1",
}


def test_a_cable_is_named_by_its_size_with_its_unit(site, planner):
    for code, size, told in (("A", "500", "500 kcmil"), ("B", "4/0", "4/0 AWG"), ("C", "150 mm2", "150 mm²")):
        cable = CableFactory(site=site, code=code, size=size)
        assert f"{told} copper" in text_of(planner.get(url("cut_plan_cable", site, cable.pk)))


def test_two_runs_of_a_reel_never_look_alike(site, cable, planner):
    plan = CutPlanFactory(site=site, cable=cable)
    both = ReelFactory(site=site, tag="BOTH", feet=300)
    for number in range(7):
        (conductor,) = make_conductors(RunFactory(site=site, name=f"RUN-{number}", measured=True), 100, "A1")
        reel = both if number in {0, 6} else ReelFactory(site=site, tag=f"R{number}", feet=300)
        plan.cuts.create(reel=reel, seq=number + 1, conductor=conductor, length=conductor.length)
    page = planner.get(url("cut_plan_cable", site, cable.pk)).content.decode()
    strip = page[page.index("<strong>BOTH</strong>") :]
    bands = re.findall(r'fill="url\(#p-(\d)\)" class="edge"', strip[: strip.index("</svg>")])
    assert len(set(bands)) == 2


def test_planning_again_proposes_the_usual_seconds_unless_a_person_chose_them(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    planned(site, cable, Options(seconds=1.0))
    page = url("cut_plan_cable", site, cable.pk)
    seconds = re.compile(r'<input type="number" name="seconds" value="(\d+)"')
    assert seconds.search(planner.get(page).content.decode())[1] == "10"
    planner.post(url("ask_cut_plan", site, cable.pk), {**ASKED, "seconds": "3"})
    tasks.work_out.func(site.pk, CutPlan.objects.of(site).latest("pk").pk)
    assert seconds.search(planner.get(page).content.decode())[1] == "3"


def test_asking_again_says_which_plan_was_dropped_for_it(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    ask = url("ask_cut_plan", site, cable.pk)
    said = text_of(planner.post(ask, ASKED, follow=True))
    first = CutPlan.objects.of(site).get()
    assert "dropped" not in said
    said = text_of(planner.post(ask, ASKED, follow=True))
    first.refresh_from_db()
    assert first.state == "cancelled"
    assert f"Plan {first.pk} was dropped" in said


def test_an_empty_site_says_what_to_do_next(site, planner):
    assert "There is no cable to cut yet" in text_of(planner.get(url("cut_plan", site)))


def test_a_cable_without_a_plan_offers_one_to_a_planner_only(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    page = url("cut_plan_cable", site, cable.pk)
    assert "Look for a plan" in text_of(planner.get(page))
    said = text_of(person(site, "viewer").get(page))
    assert "No cut plan yet" in said
    assert "Look for a plan" not in said


def test_asking_hands_the_plan_to_a_worker_and_the_page_follows(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    answer = planner.post(url("ask_cut_plan", site, cable.pk), {**ASKED, "rate_whole": "12.5"}, follow=True)
    plan = CutPlan.objects.of(site).get()
    assert (plan.state, plan.rate_whole, plan.strict) == ("planning", Decimal("12.5"), False)
    assert f"Plan {plan.pk} waits for a worker" in text_of(answer)
    following = url("cut_plan_progress", site, cable.pk, plan.pk)
    assert "waits for a worker" in text_of(planner.get(following))
    assert tasks.work_out.func(site.pk, plan.pk) == "proposed"
    done = planner.get(following)
    assert (done.status_code, done["HX-Refresh"]) == (204, "true")
    said = text_of(planner.get(url("cut_plan_cable", site, cable.pk)))
    assert "R1 600' 0\" left" in said
    assert "BUS-1 A1, A2, B1, B2, C1, C2: 6 × 100' 0\" → used up" in said.replace(" :", ":")


def test_progress_tells_the_stage_and_the_best_so_far(site, cable, planner):
    plan = ask_for_plan(site=site, cable=cable, options=QUICK)
    plan.progress, plan.levels = "re-split, 4 s", {"unmetFeet": 0.0, "scrapFeet": 7.5}
    plan.save()
    said = text_of(planner.get(url("cut_plan_progress", site, cable.pk, plan.pk)))
    assert "re-split, 4 of at most 1 seconds" in said
    assert "Best so far: cannot be cut 0 ft, scrap 7.5 ft" in said
    page = url("cut_plan_cable", site, cable.pk)
    assert "Stop and keep the best so far" in text_of(planner.get(page))
    assert "Stop and keep" not in text_of(person(site, "viewer").get(page))


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("rate_whole", "-1", "greater than or equal to 0"),
        ("rate_whole", "", "This field is required"),
        ("reels", "", "This field is required"),
        ("rate_setup", "a lot", "Enter a number"),
        ("rate_remnant", "0.00001", "no more than 4 decimal places"),
        ("seconds", "0", "greater than or equal to 1"),
        ("seconds", "100000", "less than or equal to 600"),
        ("order", "random", "Select a valid choice"),
        ("rate_whole", "NaN", "Enter a number"),
    ],
)
def test_what_cannot_be_asked_is_said_and_nothing_is_planned(site, cable, planner, field, value, said):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    answer = planner.post(url("ask_cut_plan", site, cable.pk), {**ASKED, field: value})
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert not CutPlan.objects.of(site).exists()


def test_a_plan_may_count_on_reels_on_the_way_in_the_strict_order(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=700, state="on the way")
    asked = {**ASKED, "order": "strict", "reels": "coming"}
    assert planner.post(url("ask_cut_plan", site, cable.pk), asked).status_code == 302
    plan = CutPlan.objects.of(site).get()
    assert (plan.strict, plan.with_coming) == (True, True)
    tasks.work_out.func(site.pk, plan.pk)
    said = text_of(planner.get(url("cut_plan_cable", site, cable.pk)))
    assert "counts on reels that are on the way" in said
    assert "R1 700' 0\" left, on the way" in said


@pytest.mark.parametrize("plan", ["0", "abc", "-1", "9" * 40, "²", ""])
def test_a_plan_that_is_none_is_not_found(site, cable, planner, plan):
    for name in ("cut_plan_cable", "cut_list"):
        assert planner.get(url(name, site, cable.pk), {"plan": plan}).status_code == 404


def test_pages_and_words_that_match_nothing_do_no_harm(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    planned(site, cable)
    page = url("cut_plan_cable", site, cable.pk)
    for asked in ({"page": "x"}, {"page": "-3"}, {"page": "999"}):
        assert "R1" in text_of(planner.get(page, asked))
    assert "No reel matches" in text_of(planner.get(page, {"find": "<b>nowhere"}))
    assert "BUS-1" in text_of(planner.get(page, {"find": "bus-"}))
    assert planner.get(url("compare_cut_plans", site, cable.pk), {"one": "x", "other": "7"}).status_code == 422


def test_another_cables_plan_is_not_shown_under_this_one(site, cable, planner):
    other = CableFactory(site=site, code="350-CU", size="350")
    plan = planned(site, other)
    for name in ("accept_cut_plan", "stop_cut_plan", "cancel_cut_plan"):
        assert planner.post(url(name, site, cable.pk, plan.pk)).status_code == 404
    assert planner.get(url("cut_plan_cable", site, cable.pk), {"plan": plan.pk}).status_code == 404
    elsewhere = CableFactory(site=SiteFactory(slug="elsewhere", whole_reels=True))
    assert planner.get(url("cut_plan_cable", site, elsewhere.pk)).status_code == 404


def test_only_a_planner_accepts(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    plan = planned(site, cable)
    accept = url("accept_cut_plan", site, cable.pk, plan.pk)
    foreman = person(site, "foreman")
    assert foreman.post(accept).status_code == 403
    assert f"Accept plan {plan.pk}" not in text_of(foreman.get(url("cut_plan_cable", site, cable.pk)))
    assert "the crew's cut list follows it" in text_of(planner.post(accept, follow=True))
    plan.refresh_from_db()
    assert plan.state == "accepted"


def test_a_stale_proposal_says_what_changed_and_is_accepted_only_knowingly(site, cable, planner):
    run = RunFactory(site=site, name="BUS-1", measured=True)
    make_conductors(run, 100)
    ReelFactory(site=site, tag="R1", feet=800)
    plan = planned(site, cable)
    MeasurementFactory(run=run, length=90 * FT, at=at())
    ReelFactory(site=site, tag="R9", feet=300)
    page, accept = url("cut_plan_cable", site, cable.pk), url("accept_cut_plan", site, cable.pk, plan.pk)
    said = text_of(planner.get(page))
    assert "Reel R9 came." in said
    assert "The as-built length of BUS-1 changed." in said
    assert "can still be cut as it stands" in said
    assert "was not accepted. Plan again" in text_of(planner.post(accept, follow=True))
    planner.post(accept, {"though_stale": "on"})
    plan.refresh_from_db()
    assert plan.state == "accepted"


def test_where_cable_is_short_the_page_names_what_is_uncut_by_run_and_what_to_buy(site, cable, planner):
    cable.buy_lengths = [int(500 * FT * 10_000)]
    cable.save()
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=450)
    plan = planned(site, cable)
    assert len(plan.unmet) == 2
    said = text_of(planner.get(url("cut_plan_cable", site, cable.pk)))
    assert "2 lengths find no reel" in said
    assert "2 × 100' 0\"" in said
    assert "buy 1 × 500' 0\"" in said
    assert "no headroom: 2 lengths" in text_of(planner.get(url("headroom", site, cable.pk)))


def test_a_purchase_beyond_what_could_be_enough_says_so(site, cable, planner):
    cable.buy_lengths = [int(500 * FT * 10_000), int(1500 * FT * 10_000)]
    cable.save()
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=450)
    plan = planned(site, cable)
    page = url("cut_plan_cable", site, cable.pk)
    said = text_of(planner.get(page))
    assert "buy 1 × 500' 0\"" in said
    assert "no less than" not in said
    plan.buy, plan.stopped = [[int(1500 * FT * 10_000), 2]], "asked"
    plan.save()
    said = text_of(planner.get(page))
    assert "buy at most 2 × 1 500' 0\" ; no less than 500' 0\" is enough: plan again without stopping" in said


def test_two_orders_are_offered_beside_each_other_and_either_can_be_accepted(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=600)
    at_rates = planned(site, cable)
    page = url("cut_plan_cable", site, cable.pk)
    assert "See what the least scrap would cost" in text_of(planner.get(page))
    strict = planned(site, cable, Options(strict=True, seconds=1.0))
    at_rates.refresh_from_db()
    assert (at_rates.state, strict.state) == ("proposed", "proposed")
    said = text_of(planner.get(page, {"plan": at_rates.pk}))
    assert f"plan {strict.pk} in the strict order does the same at every level" in said
    planner.post(url("accept_cut_plan", site, cable.pk, at_rates.pk))
    strict.refresh_from_db()
    assert strict.state == "superseded"


def test_comparing_tells_the_difference_and_the_reels_that_differ(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1", "B1", "C1")
    make_conductors(RunFactory(site=site, name="BUS-2", measured=True), 200, "A1")
    # At the rates one reel costs 8 + 10 ft and two cost 0 + 20 ft; the strict order sees only the scrap.
    for tag, feet in (("R1", 508), ("R2", 300), ("R3", 200)):
        ReelFactory(site=site, tag=tag, feet=feet)
    one, other = planned(site, cable), planned(site, cable, Options(strict=True, seconds=2.0))
    told = "scraps 8 ft less, but opens 1 more whole reel"
    said = text_of(planner.get(url("cut_plan_cable", site, cable.pk), {"plan": one.pk}))
    assert f"plan {other.pk} in the strict order {told}" in said
    said = text_of(planner.get(url("compare_cut_plans", site, cable.pk), {"one": one.pk, "other": other.pk}))
    assert f"Plan {other.pk} {told} than plan {one.pk}" in said
    assert "4 lengths lie on other reels or on none: 3 reels differ, 0 reels are cut alike" in said
    assert said.count("left alone") == 3, "each of the three reels is cut by one plan only"


def test_planning_again_says_how_much_of_the_accepted_plan_it_keeps(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=620)
    accept_plan(site=site, plan=planned(site, cable))
    make_conductors(RunFactory(site=site, name="BUS-2", measured=True), 50, "A1")
    ReelFactory(site=site, tag="R2", feet=300)
    again = planned(site, cable)
    said = text_of(planner.get(url("cut_plan_cable", site, cable.pk), {"plan": again.pk}))
    assert "Keeps 6 of 6 cuts on the reels that the accepted plan has them on" in said


def test_stopping_and_cancelling(site, cable, planner):
    plan = ask_for_plan(site=site, cable=cable, options=QUICK)
    planner.post(url("stop_cut_plan", site, cable.pk, plan.pk))
    plan.refresh_from_db()
    assert (plan.state, plan.stop_asked) == ("planning", True)
    planner.post(url("cancel_cut_plan", site, cable.pk, plan.pk))
    plan.refresh_from_db()
    assert plan.state == "cancelled"
    again = planner.post(url("cancel_cut_plan", site, cable.pk, plan.pk), follow=True)
    assert "Nothing was dropped. The plan is cancelled already." in text_of(again)


def test_a_plan_that_was_stopped_is_labelled_so(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=700)
    run_plan(plan=ask_for_plan(site=site, cable=cable, options=QUICK), told=lambda *_: True)
    assert "The best so far, stopped early" in text_of(planner.get(url("cut_plan_cable", site, cable.pk)))


def test_a_failed_plan_says_what_was_kept(site, cable, planner):
    plan = ask_for_plan(site=site, cable=cable, options=QUICK)
    plan.state, plan.trouble = "failed", "ProblemError: it contradicts itself"
    plan.save()
    said = text_of(planner.get(url("cut_plan_cable", site, cable.pk)))
    assert f"Plan {plan.pk} failed. Nothing was changed" in said
    assert "it contradicts itself" in said


def test_conductors_without_a_length_are_told(site, cable, planner):
    run = RunFactory(site=site, name="NEW", measured=True)
    run.conductors.create(name="A1", cable=cable)
    assert "1 conductor of this cable has no length yet" in text_of(planner.get(url("cut_plan_cable", site, cable.pk)))


def stocked(site, cable, reels):
    """Every reel gets the cuts of a run of its own; a plan by hand, so that no solver decides how many."""
    plan = CutPlanFactory(site=site, cable=cable, levels={"scrapFeet": 1.0})
    for _ in range(reels):
        reel = ReelFactory(site=site, feet=700)
        for seq, conductor in enumerate(make_conductors(RunFactory(site=site, measured=True), 100), 1):
            plan.cuts.create(reel=reel, seq=seq, conductor=conductor, length=conductor.length)
    return plan


def pages_of(site, cable, one, other):
    return [
        url("cut_plan", site),
        url("cut_plan_cable", site, cable.pk),
        url("cut_list", site, cable.pk),
        url("cut_list", site, cable.pk) + "?by=run&page=all",
        url("headroom", site, cable.pk),
        url("compare_cut_plans", site, cable.pk) + f"?one={one.pk}&other={other.pk}",
    ]


def test_pages_ask_as_much_for_40_reels_as_for_4(site, planner):
    asked = []
    for reels in (4, 40):
        cable = CableFactory(site=site, code=f"CABLE-{reels}")
        one, other = (
            stocked(site, cable, reels),
            CutPlanFactory(site=site, cable=cable, state="superseded", strict=True, levels={"scrapFeet": 0.0}),
        )
        counts = []
        for page in pages_of(site, cable, one, other):
            planner.get(page)
            with CaptureQueriesContext(connection) as queries:
                assert planner.get(page).status_code == 200
            counts.append(len(queries))
        asked.append(counts)
    assert asked[0] == asked[1]
    assert max(asked[0]) < 45


def test_400_reels_come_in_parts_of_60(site, cable, planner):
    plan = CutPlanFactory(site=site, cable=cable)
    run = RunFactory(site=site, name="LONG", measured=True)
    for number in range(130):
        (conductor,) = make_conductors(run, 100, f"A{number}")
        plan.cuts.create(
            reel=ReelFactory(site=site, tag=f"R{number:03}", feet=150), seq=1, conductor=conductor, length=100 * FT
        )
    page = url("cut_plan_cable", site, cable.pk)
    first, last = (planner.get(page, {"page": number}).content.decode() for number in (1, 3))
    assert (first.count('class="reel-row"'), last.count('class="reel-row"')) == (60, 10)
    assert "Part 1 of 3" in first
    crew = planner.get(url("cut_list", site, cable.pk), {"page": "all"}).content.decode()
    assert crew.count('class="crew-sheet"') == 130, "paper gets all of it"


def test_no_page_carries_inline_style_or_script(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=650)
    one, other = planned(site, cable), planned(site, cable, Options(strict=True, seconds=1.0))
    for page in pages_of(site, cable, one, other):
        content = planner.get(page).content.decode()
        assert " style=" not in content
        assert not re.search(r"<script(?![^>]*\bsrc=)", content)


def test_what_finds_no_reel_is_said_before_a_plan_can_be_accepted(site, cable, planner):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=250)
    planned(site, cable)
    page = planner.get(url("cut_plan_cable", site, cable.pk)).content.decode()
    assert page.index("Not enough cable: 4 lengths") < page.index("Accept plan") < page.index("How good it is")


@pytest.mark.parametrize(("role", "reads"), [("planner", True), ("purchaser", True), ("foreman", False)])
def test_rates_bounds_and_proofs_stay_off_the_pages_that_a_crew_opens(site, cable, role, reads):
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100)
    ReelFactory(site=site, tag="R1", feet=1300)
    for options in (replace(QUICK, strict=True), QUICK):
        planned(site, cable, options)
    client = person(site, role)
    said = text_of(client.get(url("cut_plan_cable", site, cable.pk)))
    for words in ("Proven", "How good it is", "of scrap for a whole reel", "at rates", "Compare plans"):
        assert (words in said) == reads, words
    said = text_of(client.get(url("headroom", site, cable.pk)))
    assert ("Never by more than" in said) == reads
    assert "May turn out longer by" in said
    assert not re.search("proven|bound", text_of(client.get(url("cut_list", site, cable.pk))), re.IGNORECASE)


def test_a_page_has_one_figure_of_scrap_and_the_crew_the_same():
    # 1 ft of tail and 1 % of the other 299 ft, up to 0.01 ft: 3.97 ft. 280 ft cut of 300 ft leave 20 ft on the drum,
    # of which 16.03 ft can be relied on.
    site = SiteFactory(
        slug="ends", safety_tail=FT, mark_allowance=Decimal("0.01"), keep_length=18 * FT, unit="ft", whole_reels=True
    )
    cable = CableFactory(site=site)
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 140, "A1", "B1")
    ReelFactory(site=site, tag="R1", outer_mark=0, inner_mark=300)
    accept_plan(site=site, plan=planned(site, cable))
    said = text_of(planner_of(site).get(url("cut_plan_cable", site, cable.pk)))
    assert "→ 20' 0\" remnant" in said, "20 ft is more than 18 ft, whatever the marks are worth"
    assert re.search(r"Scrap 0 ft .* Remnants made 1 ", said)
    assert "Afterwards 20' 0\" stays: a remnant" in text_of(planner_of(site).get(url("cut_list", site, cable.pk)))
    site.keep_length = 30 * FT
    site.save()
    said = text_of(planner_of(site).get(url("cut_plan_cable", site, cable.pk)))
    assert "→ 20' 0\" scrap" in said
    assert re.search(r"Scrap 20 ft [^0-9]*, the tails at the core aside", said)
    said = text_of(planner_of(site).get(url("cut_list", site, cable.pk)))
    assert "Afterwards 20' 0\" is scrap." in said
    assert "relied on" not in said


def planner_of(site):
    return person(site, "planner")

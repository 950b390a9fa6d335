"""A plan that the crew cuts by its printed marks, line after line, can be cut to its last length."""

import random
from decimal import Decimal
from fractions import Fraction

import pytest

from reels.planner.options import Options
from reels.plans.pages.crew import crew_page
from reels.plans.queries import cut_list, staleness
from reels.plans.services import accept_plan, ask_for_plan, run_plan
from takeoff.units.exact import from_ticks, to_ticks
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, RunFactory, SiteFactory
from tests.reels.makers import FT, at, cut, decide, make_conductors

pytestmark = pytest.mark.django_db


def found(told: str) -> Decimal:
    """Where a crew finds a mark that its list tells, to 0.0001: `3406 ft + 3 in`, `3407 ft − 9 in`, `3406.3 ft`."""
    printed, _unit, sign, steps, _name = [*told.split(), "+", "0", "in"][:5]
    on = Fraction(int(steps), 12)
    return round(Decimal(printed) + Decimal(on.numerator) / on.denominator * (-1 if sign == "−" else 1), 4)


@pytest.mark.parametrize("marks_as", ["inches", "tenths"])
@pytest.mark.parametrize("allowance", ["0.01", "0"])
@pytest.mark.parametrize("seed", range(3))
def test_a_plan_cut_by_marks_alone_holds_to_the_end(seed, allowance, marks_as):
    rng = random.Random(seed)
    site = SiteFactory(
        mark_allowance=Decimal(allowance), safety_tail=FT, keep_length=30 * FT, marks_as=marks_as, whole_reels=True
    )
    cable = CableFactory(site=site)
    for number in range(8):
        make_conductors(RunFactory(site=site, name=f"R{number}", measured=True), Decimal(rng.randint(300, 2200)) / 10)
    for number in range(9):
        climbs = number % 2
        outer = Decimal(rng.randint(0, 9000)) / 10 + Decimal(rng.choice(["0", "0.03"]))
        length = rng.randint(600, 1300)
        ends = (outer, outer + length) if climbs else (outer + length, outer)
        ReelFactory(site=site, tag=f"X{number}", outer_mark=ends[0], inner_mark=ends[1])
    plan = run_plan(plan=ask_for_plan(site=site, cable=cable, options=Options(seconds=1.0)))
    accept_plan(site=site, plan=plan)
    planned = plan.cuts.count()
    assert planned > 20

    made = 0
    while True:
        page = crew_page(site, cable, plan=plan, by_run=False, page="all")
        lines = [(sheet.entry.reel, line) for sheet in page.sheets for line in sheet.lines if line.line.made is None]
        first = {reel.pk: (reel, line) for reel, line in reversed(lines)}
        if not first:
            break
        for reel, line in first.values():
            assert line.cut_at, f"no mark for {line.line.planned.conductor} on {reel.tag}"
            begins = from_ticks(line.line.mark.from_mark)  # where the reel begins now, read or not
            outcome = cut(reel, begins, found(line.cut_at), conductor=line.line.planned.conductor)
            assert not outcome.warnings, "long enough, and off nobody else's cable"
            made += 1
    assert made == planned
    stale = staleness(plan)
    assert (stale.followable, stale.off_plan) == (True, ())


def test_what_nobody_needs_of_the_cable_any_more_is_not_to_be_cut():
    site = SiteFactory(mark_allowance=0, whole_reels=True)
    cable = CableFactory(site=site)
    a1, b1, c1 = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1", "B1", "C1")
    ReelFactory(site=site, tag="R", outer_mark=0, inner_mark=500)
    plan = run_plan(plan=ask_for_plan(site=site, cable=cable, options=Options(seconds=1.0)))
    accept_plan(site=site, plan=plan)
    a1.cable = CableFactory(site=site, code="250", size="250")
    a1.save()
    b1.length = 0
    b1.save()

    (reel,) = cut_list(plan)

    assert [line.planned.conductor for line in reel.to_do] == [c1]
    assert [line.dropped for line in reel.lines] == [True, True, False]
    assert (reel.to_do[0].mark.from_mark, reel.left) == (0, to_ticks(400 * FT))


def test_a_reel_that_no_longer_holds_its_share_is_told():
    site = SiteFactory(mark_allowance=0, whole_reels=True)
    cable = CableFactory(site=site)
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1", "B1")
    reel = ReelFactory(site=site, tag="R", outer_mark=0, inner_mark=200)
    plan = run_plan(plan=ask_for_plan(site=site, cable=cable, options=Options(seconds=1.0)))
    accept_plan(site=site, plan=plan)
    cut(reel, 0, 101, conductor=plan.cuts.get(seq=1).conductor)
    assert not staleness(plan).followable


def test_a_short_cut_that_is_accepted_later_is_not_told_as_planned():
    site = SiteFactory(mark_allowance=0, whole_reels=True)
    cable = CableFactory(site=site)
    (a1,) = make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 100, "A1", least=90)
    reel = ReelFactory(site=site, tag="R", outer_mark=0, inner_mark=500)
    short = cut(reel, 0, 95, conductor=a1).cut
    plan = run_plan(plan=ask_for_plan(site=site, cable=cable, options=Options(seconds=1.0)))
    accept_plan(site=site, plan=plan)
    decide(short, "accepted", event_id="ok-1", reason="the end allows it", at=at(3))
    assert [change.as_planned for change in staleness(plan).changes] == [False]

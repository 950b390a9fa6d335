"""A plan that the crew cuts by its printed marks, line after line, can be cut to its last length."""

import random
from decimal import Decimal

import pytest

from reels.planning.crew import crew_page
from reels.planning.options import Options
from reels.planning.queries import staleness
from reels.planning.services import accept_plan, ask_for_plan, run_plan
from takeoff.units.exact import from_ticks
from tests.reels.makers import FT, cut, make_cable, make_conductors, make_reel, make_run, make_site

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("seed", range(4))
def test_a_plan_cut_by_marks_alone_holds_to_the_end(seed):
    rng = random.Random(seed)
    site = make_site(mark_allowance=Decimal("0.01"), safety_tail=FT, keep_length=30 * FT)
    cable = make_cable(site)
    for number in range(8):
        make_conductors(make_run(site, f"R{number}"), Decimal(rng.randint(300, 2200)) / 10)
    for number in range(9):
        climbs = number % 2
        outer = Decimal(rng.randint(0, 9000)) / 10 + Decimal(rng.choice(["0", "0.03"]))
        length = rng.randint(600, 1300)
        ends = (outer, outer + length) if climbs else (outer + length, outer)
        make_reel(site, f"X{number}", outer=ends[0], inner=ends[1])
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
            cut(reel, begins, Decimal(line.cut_at), conductor=line.line.planned.conductor)
            made += 1
    assert made == planned
    found = staleness(plan)
    assert (found.followable, found.off_plan) == (True, ())

"""What a crew's gang box means for shortages: pooled, for its crew first, and learned from as one observation."""

import pytest

from kits.overview.today import asked_stages
from kits.shortages.queries import reconcile
from kits.shortages.reckon.arrivals import stage_lines
from kits.shortages.told.of_stage import one_in_words
from tests.kits.gang_boxes.crew import a_run, filled, left
from tests.kits.makers import at, day, handed, report, stocked

pytestmark = pytest.mark.django_db


def line_of(site, item, number=20):
    return next(line for line in reconcile(site, day(number)).lines if line.item.code == item.code)


def missing_of(site, run, stage="seals", number=20):
    rows = reconcile(site, day(number)).readiness
    return next(row for row in rows if (row.run, row.stage) == (run.name, stage)).missing


def test_a_box_counts_as_stock_of_the_site_and_serves_its_own_crew_first(site, tape):
    own, other = a_run(site, "CB-2", tape, 60), a_run(site, "CB-1", tape, 60, crew="Crew B")
    filled(tape, 80)
    line = line_of(site, tape)
    assert (line.on_hand, line.usable) == (1_000_000, 1_000_000)
    assert missing_of(site, own) == ()
    (lacks,) = missing_of(site, other)
    # 66 are expected of each: 20 are in the store, and 14 of the 80 are spare.
    assert (lacks.quantity, lacks.in_boxes) == (460_000, (("Crew A's box", 140_000),))
    found = reconcile(site, day(20))
    words = [one_in_words(lack) for each in stage_lines(found.readiness, found.lines) for lack in each.lacks]
    assert any("(14 in Crew A's box)" in text for text in words)


def test_of_a_stage_that_is_done_the_box_tells_what_it_used_once_it_is_counted(site, tape):
    run = a_run(site, "CB-1", tape, 30, done=5)
    fixed = a_run(site, "CB-9", tape, 30, crew="Crew B", done=5)
    filled(tape, 40)
    assert [one.run for one in asked_stages(reconcile(site, day(20)).lines)] == [fixed.name]
    (need,) = [need for need in line_of(site, tape).needs if need.run == run.name]
    assert (need.asked, need.need) == (True, 300_000)
    left(tape, 40)
    assert [one.run for one in asked_stages(reconcile(site, day(20)).lines)] == [run.name, fixed.name]


def test_what_one_count_shares_is_one_observation(site, tape):
    a_run(site, "CB-1", tape, 30, done=5)
    second = a_run(site, "CB-2", tape, 20)
    handed(tape, 1, second)
    filled(tape, 60)
    left(tape, 11)
    assert line_of(site, tape).usage.evidence == ()
    second.stages.update(done=at(12))
    (one,) = line_of(site, tape).usage.evidence
    assert (one.run, one.planned, one.used) == ("CB-1, CB-2", 500_000, 500_000)
    assert line_of(site, tape, 5).usage.evidence == ()


def test_a_count_that_was_taken_back_links_nothing(site, tape):
    first, second = a_run(site, "CB-1", tape, 30, done=5), a_run(site, "CB-2", tape, 20, done=5)
    filled(tape, 60)
    count = left(tape, 11)
    report(site, "reversals", reverses=count.event_id, reason="wrong tap", number=7)
    stocked(tape, 40, "Shelf")
    for run in (first, second):
        handed(tape, 10, run)
    assert [one.run for one in line_of(site, tape).usage.evidence] == ["CB-1", "CB-2"]


def test_causes_add_up_with_what_lies_in_a_box_and_was_lost_there(site, tape):
    a_run(site, "CB-1", tape, 300)
    filled(tape, 60)
    left(tape, 40, gone_to="not known")
    line = line_of(site, tape)
    assert sum(line.causes.values()) == line.need - line.usable - line.inbound
    assert line.causes["lost"] == -800_000

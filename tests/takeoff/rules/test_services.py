from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from takeoff.models import Cable, Conductor, Item, Override, RuleBook, Run, RunEnd, Site, Takeoff, TakeoffLine
from takeoff.rules.engine.book import NotPublishableError
from takeoff.rules.engine.rows import RuleRow
from takeoff.rules.services import overrule, publish, refresh_takeoffs, settle_takeoffs, withdraw_override
from tests.factories.takeoff import ConductorFactory, ItemFactory, RunFactory, SectionFactory, SiteFactory

pytestmark = pytest.mark.django_db

FOOT = 3_048_000  # ticks
CLAMPS = RuleRow(
    name="clamp each ten feet",
    item="clamp",
    stage="enclosure",
    counted_on="straight",
    measure="spaced",
    amount=10_000,
    source="common practice",
    spacing=10 * FOOT,
    end_offset=5 * FOOT,
)
SUPPORTS = replace(
    CLAMPS, name="support", item="support", counted_on="run", spacing=12 * FOOT, end_offset=0, source="NFPA 70 Art. 370"
)
WIPES = replace(
    CLAMPS,
    name="wipes",
    item="wipe pack",
    stage="terminations",
    counted_on="conductor end",
    measure="each",
    amount=1_000,
    spacing=None,
    end_offset=None,
    rounding="site",
)


def needed(site):
    return {(line.item.code, line.stage): line.quantity for line in TakeoffLine.objects.of(site)}


def test_without_a_rule_book_a_sections_own_item_and_what_a_planner_sets_count(site):
    run = add_run(site, "CB-1")
    run.sections.update(item=Item.objects.get(code="clamp"))
    refresh_takeoffs(site=site)
    overrule(run=run, item=Item.objects.get(code="support"), stage="enclosure", quantity=Decimal(4), reason="drawing 7")

    assert run.takeoff.book is None
    assert needed(site) == {("clamp", "enclosure"): 2, ("support", "enclosure"): 4}

    publish(site=site, rows=[SUPPORTS])
    refresh_takeoffs(site=site)
    run.takeoff.refresh_from_db()
    assert run.takeoff.book.version == 1
    assert needed(site) == {("clamp", "enclosure"): 2, ("support", "enclosure"): 4}


def test_a_quantity_set_for_a_run_that_nothing_was_taken_off_yet_counts(site):
    """As on a site that had no rule book before it counted without one."""
    run = add_run(site, "CB-1")
    overrule(run=run, item=Item.objects.get(code="support"), stage="enclosure", quantity=Decimal(4), reason="drawing 7")

    assert needed(site) == {("support", "enclosure"): 4}
    refresh_takeoffs(site=site)
    assert needed(site) == {("support", "enclosure"): 4}


@pytest.fixture
def site():
    site = SiteFactory(slug="yard", name="Yard")
    for code in ("clamp", "support", "wipe pack"):
        ItemFactory(site=site, code=code, description=code)
    return site


def add_run(site: Site, name: str, feet: tuple[int, ...] = (10, 21)) -> Run:
    run = RunFactory(site=site, name=name, cables_per_phase=1)
    for seq, length in enumerate(feet, start=1):
        SectionFactory(run=run, seq=seq, length=Decimal("304.8") * length)
    for end in RunEnd.End.values:
        run.ends.create(end=end)
    for phase in "ABC":
        ConductorFactory(run=run, name=f"{phase}1")
    return run


def quantities(site: Site) -> dict[tuple[str, str], Decimal]:
    lines = TakeoffLine.objects.of(site).select_related("takeoff__run", "item")
    return {(line.takeoff.run.name, line.item.code): line.quantity for line in lines}


def test_a_published_book_gives_every_run_its_takeoff_and_lengths(site):
    add_run(site, "R1")
    book = publish(site=site, rows=[CLAMPS, SUPPORTS, WIPES])
    refresh_takeoffs(site=site)
    # 10 ft: 1 clamp, 21 ft: 3; supports over 31 ft at 12 ft: ceil(31/12) + 1; wipes: 6 ends of 0.1, up to 1.
    assert quantities(site) == {("R1", "clamp"): 4, ("R1", "support"): 4, ("R1", "wipe pack"): 1}
    assert Takeoff.objects.of(site).get().book == book
    assert {conductor.length for conductor in Conductor.objects.of(site)} == {Decimal("304.8") * 31}


def test_a_run_of_which_an_end_is_not_told_has_no_cut_length_and_says_so(site):
    run = add_run(site, "R1")
    publish(site=site, rows=[CLAMPS])
    run.ends.get(end="to").delete()
    refreshed = refresh_takeoffs(site=site)
    assert {conductor.length for conductor in Conductor.objects.of(site)} == {0}
    assert refreshed.lengths == {}
    assert "Nobody has told the to end: the run has no cut length until then." in Takeoff.objects.get().warnings[0]


def test_the_same_rows_publish_once_and_a_change_publishes_the_next_version(site):
    first = publish(site=site, rows=[CLAMPS, SUPPORTS])
    assert publish(site=site, rows=[CLAMPS, SUPPORTS]) == first
    assert publish(site=site, rows=[CLAMPS]).version == 2
    assert first.rules.count() == 2
    assert RuleBook.objects.of(site).count() == 2


def test_a_book_with_problems_is_refused_whole(site):
    with pytest.raises(NotPublishableError) as caught:
        publish(site=site, rows=[replace(CLAMPS, spacing=None), replace(SUPPORTS, item="nothing")])
    assert {problem.field for problem in caught.value.problems} == {"spacing", "item"}
    assert not RuleBook.objects.of(site).exists()


def test_an_as_built_length_changes_what_counts_and_not_what_was_drawn(site):
    run = add_run(site, "R1")
    publish(site=site, rows=[CLAMPS, SUPPORTS])
    refresh_takeoffs(site=site)
    run.measurements.create(length=Decimal("304.8") * 37, at=timezone.now())
    refresh_takeoffs(site=site)
    line = TakeoffLine.objects.of(site).get(item__code="support")
    assert (line.quantity, line.drawn) == (5, 4)
    clamps = TakeoffLine.objects.of(site).get(item__code="clamp")
    assert (clamps.quantity, clamps.drawn) == (4, 4)  # clamps count on the drawn sections


def test_shares_of_an_item_rounded_by_site_follow_every_run(site):
    add_run(site, "R1")
    publish(site=site, rows=[WIPES])
    refresh_takeoffs(site=site)
    run = add_run(site, "R2")
    run.stages.create(stage="terminations", planned=date(2030, 1, 1))
    refresh_takeoffs(site=site)
    shares = quantities(site)
    assert sum(shares.values()) == 2  # 1.2 packs, up once
    assert shares[("R1", "wipe pack")] == 1
    assert TakeoffLine.objects.of(site).first().exact == Fraction(6, 10)


def test_an_override_counts_and_the_computed_quantity_stays_beside_it(site):
    run = add_run(site, "R1")
    publish(site=site, rows=[CLAMPS])
    refresh_takeoffs(site=site)
    clamp = Item.objects.of(site).get(code="clamp")
    override = overrule(run=run, item=clamp, stage="enclosure", quantity=Decimal(9), reason="sheet E-4")
    line = TakeoffLine.objects.of(site).get()
    assert (line.computed, line.quantity) == (4, 9)
    withdraw_override(override=override)
    assert TakeoffLine.objects.of(site).get().quantity == 4


def test_an_override_of_an_item_without_a_rule_makes_and_unmakes_its_line(site):
    run = add_run(site, "R1")
    publish(site=site, rows=[CLAMPS])
    refresh_takeoffs(site=site)
    support = Item.objects.of(site).get(code="support")
    override = overrule(run=run, item=support, stage="seals", quantity=Decimal(2), reason="sheet E-5")
    assert TakeoffLine.objects.of(site).get(item=support).quantity == 2
    refresh_takeoffs(site=site)
    withdraw_override(override=override)
    assert not TakeoffLine.objects.of(site).filter(item=support).exists()


@pytest.mark.parametrize(
    ("quantity", "reason"), [(Decimal(-1), "less"), (Decimal("0.00001"), "fine"), (Decimal(3), "  ")]
)
def test_an_override_needs_an_exact_quantity_and_a_reason(site, quantity, reason):
    run = add_run(site, "R1")
    clamp = Item.objects.of(site).get(code="clamp")
    with pytest.raises(ValidationError):
        overrule(run=run, item=clamp, stage="enclosure", quantity=quantity, reason=reason)
    assert not Override.objects.of(site).exists()


def test_a_refresh_leaves_takeoffs_alone_whose_inputs_did_not_change(site):
    add_run(site, "R1")
    publish(site=site, rows=[CLAMPS, WIPES])
    refresh_takeoffs(site=site)
    before = Takeoff.objects.of(site).get().computed_at
    refresh_takeoffs(site=site)
    settle_takeoffs(site=site)
    assert Takeoff.objects.of(site).get().computed_at == before


def test_a_new_book_drops_the_lines_of_its_old_rules(site):
    add_run(site, "R1")
    publish(site=site, rows=[CLAMPS, SUPPORTS])
    refresh_takeoffs(site=site)
    publish(site=site, rows=[SUPPORTS])
    refresh_takeoffs(site=site)
    assert set(quantities(site)) == {("R1", "support")}


def test_queries_do_not_grow_with_the_runs(site):
    publish(site=site, rows=[CLAMPS, SUPPORTS, WIPES])

    def queries_for(names: list[str]) -> int:
        for name in names:
            add_run(site, name)
        with CaptureQueriesContext(
            connection,
        ) as seen:
            refresh_takeoffs(site=site)
        return len(seen)

    few = queries_for(["A", "B"])
    assert queries_for([f"R{number}" for number in range(40)]) <= few + 2  # lines of earlier runs are read and settled


def test_sites_do_not_see_each_other(site):
    add_run(site, "R1")
    publish(site=site, rows=[CLAMPS])
    other = SiteFactory(slug="other", name="Other")
    refresh_takeoffs(site=other)
    assert not TakeoffLine.objects.of(site).exists()
    assert not Cable.objects.of(other).exists()

"""The foreman's pages of a run: what is to cut, in which order it is pulled, which reels to bring."""

from datetime import date
from decimal import Decimal
from html import unescape

import pytest
from django.urls import reverse

from kits.pulling.pages import find_run, pull_page, sets_page
from reels.models import CutPlan, Reel
from takeoff.models import Conductor, Measurement, Stage
from tests.factories.reels import CutPlanFactory, PlannedCutFactory, ReelFactory
from tests.factories.takeoff import CableFactory, PlaceFactory, RunFactory, SiteFactory, member
from tests.reels.makers import at, cut, make_conductors

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return SiteFactory(slug="here")


@pytest.fixture
def cable(site):
    return CableFactory(site=site, code="C500", diameter=Decimal("25.4"), weight=2000)


@pytest.fixture
def run(site, cable):
    """A run of two tiers, measured, two of whose conductors stand in the drawing's order and not in that of names."""
    found = RunFactory(site=site, name="CB-1", cable=cable, tiers=2, cables_per_phase=2, ground_cables=0)
    make_conductors(found, "187.5", "A1", "A2", "B1", "B2", "C1", "C2")
    Conductor.objects.filter(run=found).update(cable=cable)
    Measurement.objects.create(run=found, length=50_000, at=at(1))
    Stage.objects.create(run=found, stage="cables", planned=date(2026, 5, 4))
    return found


@pytest.fixture
def reels(site, cable, run):
    """Two reels, the first with the phases A and B of the accepted plan, the second with C."""
    place = PlaceFactory(site=site, kind="bin", name="Row 5")
    first = ReelFactory(site=site, cable=cable, tag="R-1", outer_mark=1000, inner_mark=2000, place=place)
    second = ReelFactory(site=site, cable=cable, tag="R-2", outer_mark=4000, inner_mark=3400, gross=900)
    plan = CutPlanFactory(cable=cable, state=CutPlan.State.ACCEPTED)
    for reel, names in ((first, "A1 A2 B1 B2"), (second, "C1 C2")):
        for seq, name in enumerate(names.split(), 1):
            PlannedCutFactory(plan=plan, reel=reel, seq=seq, conductor=Conductor.objects.get(run=run, name=name))
    return first, second


def page_of(site, run):
    return pull_page(site, find_run(site, run.pk))


def conductor(run, name):
    return Conductor.objects.get(run=run, name=name)


def test_each_reel_says_how_many_of_what_length_and_what_was_cut_is_no_more_on_it(site, run, reels):
    first, second = reels
    found = page_of(site, run)
    assert [(one.entry.reel, [(lot.count, lot.length) for lot in one.lots]) for one in found.reels] == [
        (first, [(4, 571_500_000)]),
        (second, [(2, 571_500_000)]),
    ]
    cut(first, 1000, 1190, conductor=conductor(run, "A1"))
    found = page_of(site, run)
    assert [[(lot.count, lot.length) for lot in one.lots] for one in found.reels] == [
        [(3, 571_500_000)],
        [(2, 571_500_000)],
    ]
    assert (found.lots[0].count, found.cut) == (5, {"A1"})
    (row,) = [row for tier in found.tiers for row in tier.rows if row.name == "A1"]
    assert (row.cut.reel, row.reel, row.overlap) == (first, "", False)


def test_tiers_are_pulled_bottom_first_and_in_their_places(site, run, reels):
    for name, tier, position in (
        ("A1", 2, 1), ("B1", 2, 2), ("C1", 2, 3), ("C2", 1, 1), ("A2", 1, 3), ("B2", 1, 2)
    ):  # fmt: skip
        Conductor.objects.filter(run=run, name=name).update(tier=tier, position=position)
    found = page_of(site, run)
    assert [(tier.number, [row.name for row in tier.rows]) for tier in found.tiers] == [
        (1, ["C2", "B2", "A2"]),
        (2, ["A1", "B1", "C1"]),
    ]
    assert found.section.given


def test_without_places_the_order_is_by_conductor_and_the_page_says_so(site, run, reels, client):
    assert [(tier.number, [row.name for row in tier.rows]) for tier in page_of(site, run).tiers] == [
        (None, ["A1", "A2", "B1", "B2", "C1", "C2"])
    ]
    client.force_login(member(site, "viewer"))
    text = unescape(client.get(reverse("pull_run", args=["here", run.pk])).content.decode())
    assert "the drawing package does not say where each lies" in text
    assert "weight not known: weigh it" in text
    assert "not more than 900 lb" in text
    assert "8.0 in radius" in text, "8 times an inch, rounded up"


def test_two_records_that_overlap_are_told(site, run, reels):
    cut(reels[0], 1000, 1190, conductor=conductor(run, "A1"))
    cut(reels[0], 1100, 1290, conductor=conductor(run, "A2"))
    assert [row.name for row in page_of(site, run).disputed] == ["A1", "A2"]


def test_what_no_accepted_plan_has_a_reel_for_is_named(site, run, reels):
    CutPlan.objects.update(state="proposed")
    found = page_of(site, run)
    assert (found.reels, [row.name for row in found.unplaced]) == ((), ["A1", "A2", "B1", "B2", "C1", "C2"])


def test_the_list_tells_of_each_set_what_is_still_to_cut(site, run, reels, client):
    Stage.objects.create(run=run, stage="enclosure", done=at(1))
    ((one, lots),) = sets_page(site)
    assert (one.run, lots[0].count) == ("CB-1", 6)
    client.force_login(member(site, "foreman"))
    assert "CB-1" in client.get(reverse("pull", args=["here"])).content.decode()
    assert client.get(reverse("pull_run", args=["here", run.pk + 100])).status_code == 404


def test_a_reel_that_is_not_here_says_so(site, run, reels, client):
    Reel.objects.filter(tag="R-2").update(state="on the way")
    client.force_login(member(site, "viewer"))
    assert "on the way" in client.get(reverse("pull_run", args=["here", run.pk])).content.decode()

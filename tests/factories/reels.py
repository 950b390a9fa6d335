"""One row of each model of the reels floor: a test says what matters to it, the factory the rest."""

from decimal import Decimal

from factory import SelfAttribute, Sequence, SubFactory, lazy_attribute
from factory.django import DjangoModelFactory

from reels.models import Cut, CutPlan, PlannedCut, Reel
from tests.factories.takeoff import NOON, OF_THE_SAME_SITE, CableFactory, ConductorFactory, SiteFactory

FT = Decimal("304.8")


class ReelFactory(DjangoModelFactory):
    """By its marks in feet, or by `feet` of cable without marks."""

    class Meta:
        model = Reel

    class Params:
        feet = None

    site = SubFactory(SiteFactory)
    tag = Sequence(lambda number: f"REEL{number}")
    cable = SubFactory(CableFactory, site=OF_THE_SAME_SITE)
    outer_mark = None
    inner_mark = None

    @lazy_attribute
    def length(self):
        return FT * (abs(self.inner_mark - self.outer_mark) if self.feet is None else Decimal(self.feet))


class CutFactory(DjangoModelFactory):
    class Meta:
        model = Cut

    reel = SubFactory(ReelFactory)
    site = SelfAttribute("reel.site")
    event_id = Sequence(lambda number: f"cut-row-{number}")
    content_hash = "x"
    at = NOON
    recorded_at = SelfAttribute("at")


class CutPlanFactory(DjangoModelFactory):
    class Meta:
        model = CutPlan

    site = SelfAttribute("cable.site")
    cable = SubFactory(CableFactory)
    state = "proposed"
    asked_at = NOON


class PlannedCutFactory(DjangoModelFactory):
    class Meta:
        model = PlannedCut

    plan = SubFactory(CutPlanFactory)
    reel = SubFactory(ReelFactory, site=SelfAttribute("..plan.site"), cable=SelfAttribute("..plan.cable"))
    seq = 1
    conductor = SubFactory(ConductorFactory)
    length = SelfAttribute("conductor.length")

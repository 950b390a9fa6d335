"""One row of each model of the takeoff floor: a test says what matters to it, the factory the rest."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction
from uuid import uuid4

from factory import LazyAttribute, LazyFunction, SelfAttribute, Sequence, SubFactory, Trait, post_generation
from factory.django import DjangoModelFactory, Password

from takeoff.models import (
    Cable,
    Conductor,
    Item,
    Measurement,
    Member,
    NothingUsed,
    Photo,
    Place,
    Record,
    RuleBook,
    Run,
    RunEnd,
    Section,
    Site,
    Stage,
    Supplier,
    Takeoff,
    TakeoffLine,
    UsagePrior,
    User,
)  # fmt: skip

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
OF_THE_SAME_SITE = SelfAttribute("..site")


class SiteFactory(DjangoModelFactory):
    class Meta:
        model = Site

    class Params:
        # Tests of the cable's books reckon with all of a reel unless they say otherwise.
        whole_reels = Trait(safety_tail=0, mark_allowance=0)

    slug = Sequence(lambda number: f"site-{number}")
    name = SelfAttribute("slug")


class UserFactory(DjangoModelFactory):
    class Meta:
        model = User

    username = Sequence(lambda number: f"user-{number}")
    password = Password(None)


class MemberFactory(DjangoModelFactory):
    class Meta:
        model = Member

    site = SubFactory(SiteFactory)
    user = SubFactory(UserFactory)
    role = "planner"


def member(site: Site | None, *roles: str, **fields) -> User:
    """A person with these roles on a site."""
    user = UserFactory(**fields)
    for role in roles:
        MemberFactory(site=site, user=user, role=role)
    return user


class SupplierFactory(DjangoModelFactory):
    class Meta:
        model = Supplier
        django_get_or_create = ("site", "name")

    site = SubFactory(SiteFactory)
    name = "Supplier"


class UsagePriorFactory(DjangoModelFactory):
    """Of a class, or of an item where one is given."""

    class Meta:
        model = UsagePrior

    site = SubFactory(SiteFactory)
    usage = LazyAttribute(lambda prior: "" if prior.item else "bead")
    item = None
    rate = 1
    rate_worth = 2
    spread = "0.1"
    spread_worth = 4


class ItemFactory(DjangoModelFactory):
    class Meta:
        model = Item

    site = SubFactory(SiteFactory)
    code = Sequence(lambda number: f"I{number}")
    description = LazyAttribute(lambda item: f"the {item.code}")


class CableFactory(DjangoModelFactory):
    class Meta:
        model = Cable
        django_get_or_create = ("site", "code")

    site = SubFactory(SiteFactory)
    code = "500-CU"
    size = "500"
    material = "Cu"


class PlaceFactory(DjangoModelFactory):
    class Meta:
        model = Place

    site = SubFactory(SiteFactory)
    kind = "bin"
    name = Sequence(lambda number: f"BIN{number}")


class RunFactory(DjangoModelFactory):
    """`planned`: the day for which its cables are planned. `measured`: its centre line is, so its cable may be cut."""

    class Meta:
        model = Run
        skip_postgeneration_save = True

    site = SubFactory(SiteFactory)
    name = Sequence(lambda number: f"R{number}")
    tiers = 1
    phases = 3
    cables_per_phase = 2
    voltage_class = "LV"
    ground_cables = 0
    cable = SubFactory(CableFactory, site=OF_THE_SAME_SITE)

    @post_generation
    def planned(self, create, day, **more):
        if day:
            StageFactory(run=self, planned=day)

    @post_generation
    def measured(self, create, yes, **more):
        if yes:
            MeasurementFactory(run=self)


class RunEndFactory(DjangoModelFactory):
    class Meta:
        model = RunEnd

    run = SubFactory(RunFactory)
    end = "from"


class SectionFactory(DjangoModelFactory):
    class Meta:
        model = Section

    run = SubFactory(RunFactory)
    seq = 1
    kind = "straight"
    length = 3048  # 10 ft


class ConductorFactory(DjangoModelFactory):
    class Meta:
        model = Conductor

    run = SubFactory(RunFactory)
    name = "A1"
    cable = SelfAttribute("run.cable")


class StageFactory(DjangoModelFactory):
    class Meta:
        model = Stage

    run = SubFactory(RunFactory)
    stage = "cables"


class NothingUsedFactory(DjangoModelFactory):
    class Meta:
        model = NothingUsed

    run = SubFactory(RunFactory)
    event_id = Sequence(lambda n: f"unused-{n}")
    item = SubFactory(ItemFactory, site=SelfAttribute("..run.site"))
    at = NOON - timedelta(days=1)


class MeasurementFactory(DjangoModelFactory):
    class Meta:
        model = Measurement

    run = SubFactory(RunFactory)
    length = 3048  # 10 ft
    at = NOON - timedelta(days=1)


class RuleBookFactory(DjangoModelFactory):
    class Meta:
        model = RuleBook

    site = SubFactory(SiteFactory)
    version = 1
    published_at = NOON
    content_hash = "x"


class TakeoffFactory(DjangoModelFactory):
    class Meta:
        model = Takeoff

    run = SubFactory(RunFactory)
    book = SubFactory(RuleBookFactory, site=SelfAttribute("..run.site"))
    inputs_hash = "x"
    computed_at = NOON


class TakeoffLineFactory(DjangoModelFactory):
    """What counts is what was computed, and as drawn, unless the test says otherwise."""

    class Meta:
        model = TakeoffLine

    takeoff = SubFactory(TakeoffFactory)
    item = SubFactory(ItemFactory, site=SelfAttribute("..takeoff.run.site"))
    stage = "cables"
    quantity = 1
    exact = LazyAttribute(lambda line: Fraction(line.quantity))
    exact_drawn = SelfAttribute("exact")
    computed = SelfAttribute("quantity")
    drawn = SelfAttribute("quantity")


class RecordFactory(DjangoModelFactory):
    class Meta:
        model = Record

    site = SubFactory(SiteFactory)
    event_id = Sequence(lambda number: f"record-{number}")
    kind = "counts"
    row_hash = "-"
    at = NOON
    recorded_at = SelfAttribute("at")
    answer = "kept"


class PhotoFactory(DjangoModelFactory):
    """A row only; `keep_photo` keeps a photo with its file."""

    class Meta:
        model = Photo

    site = SubFactory(SiteFactory)
    uuid = LazyFunction(uuid4)
    kind = "receipts"
    record = "R-1"
    width = 1600
    height = 1200
    size = 300_000
    sha256 = "0" * 64
    sent_sha256 = "1" * 64
    at = NOON
    by = SubFactory(UserFactory)

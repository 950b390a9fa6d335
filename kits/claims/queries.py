"""Reads about claims, and about deliveries that were not as listed and can still be claimed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Exists, OuterRef, Prefetch, Q

from kits.claims.course.claim_steps import ENDS, NextAct, Step, next_act
from kits.claims.course.still_to_claim import still_to_claim
from kits.claims.models import Claim, ClaimLine, ClaimStep
from kits.receiving.counting.by_truck import Found, how_many
from kits.receiving.counting.dates import Answers, Deadlines, answers_due
from kits.receiving.queries import DeliveryReport, TruckReport, dates_from, delivery_reports
from kits.shipments.models import PackingLine, Shipment
from takeoff.records.reported import standing
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteQuerySet
from takeoff.units.exact import to_ticks


@dataclass(frozen=True, slots=True)
class ToClaim:
    """What of one truck's goods no claim asks for yet. number : of the claim that would be opened."""

    shipment: Shipment
    truck: TruckReport
    lines: tuple[tuple[PackingLine, Found], ...]
    number: int
    next: NextAct

    @property
    def what(self) -> list[tuple[str, int]]:
        """How many lines are short, damaged and so on."""
        return how_many(found for _, found in self.lines)


@dataclass(frozen=True, slots=True)
class ClaimFile:
    """A claim with its lines and its steps, those that stand; next : None once it is settled or dropped."""

    claim: Claim
    lines: tuple[tuple[PackingLine, Found], ...]
    steps: tuple[ClaimStep, ...]
    delivered: date
    dates: Deadlines
    next: NextAct | None

    @property
    def what(self) -> list[tuple[str, int]]:
        """How many lines are short, damaged and so on."""
        return how_many(found for _, found in self.lines)

    @property
    def answers(self) -> Answers | None:
        """By when it should be answered, once it is filed."""
        filed = [step.at for step in self.steps if step.step == Step.FILED.value]
        return answers_due(self.claim.shipment.site.local_date(filed[-1])) if filed else None

    @property
    def reference(self) -> str:
        """The number under which others know it, as it was said last."""
        return next((step.reference for step in reversed(self.steps) if step.reference), "")


def claims_of(site: Site) -> SiteQuerySet[Claim]:
    """Return the claims of which a step stands, with their lines and those steps in the order of their days."""
    steps = standing(ClaimStep.objects.of(site))
    lines = ClaimLine.objects.of(site).select_related("packing_line__item", "packing_line__package")
    rows = Claim.objects.of(site).filter(Exists(steps.filter(claim=OuterRef("pk"))))
    rows = rows.select_related("shipment__site", "shipment__supplier", "arrival")
    rows = rows.prefetch_related(Prefetch("steps", steps.select_related("recorded_by").order_by("at", "pk")))
    return rows.prefetch_related(Prefetch("lines", lines.order_by("pk")))


def open_ones(site: Site, claims: SiteQuerySet[Claim]) -> SiteQuerySet[Claim]:
    """Return of some claims those that are neither settled nor dropped."""
    ends = standing(ClaimStep.objects.of(site)).filter(step__in=[step.value for step in ENDS])
    return claims.exclude(Exists(ends.filter(claim=OuterRef("pk"))))


def claim_files(site: Site, claims: Iterable[Claim], reports: Mapping[int, DeliveryReport]) -> list[ClaimFile]:
    """Return claims with how they stand. claims : as `claims_of` reads them; reports : of their shipments, by key."""
    today = site.today()
    files = []
    for claim in claims:
        steps = tuple(claim.steps.all())
        trucks = reports[claim.shipment_id].trucks
        mine = [truck for truck in trucks if truck.arrival and truck.arrival.pk == claim.arrival_id]
        first = next(iter((*mine, *trucks)), None)
        delivered = first.delivered if first else site.local_date(steps[0].at)
        dates = dates_from(site, claim.shipment.supplier, delivered)
        told = [(Step(step.step), site.local_date(step.at)) for step in steps]
        lines = tuple((line.packing_line, found_of(line)) for line in claim.lines.all())
        files.append(ClaimFile(claim, lines, steps, delivered, dates, next_act(told, dates, today)))
    return files


def still_open(site: Site) -> tuple[list[ClaimFile], list[ToClaim]]:
    """Return the open claims, and what can still be claimed and no claim asks for, each by the next date."""
    today = site.today()
    claims = list(open_ones(site, claims_of(site)))
    since = site.start_of(today - timedelta(days=31 * (site.claim_months + 1)))
    counted = Q(receipts__posting__at__gte=since)
    shipments = Shipment.objects.of(site).filter(counted | Q(pk__in=[claim.shipment_id for claim in claims]))
    reports = {
        report.shipment.pk: report
        for report in delivery_reports(site, shipments.select_related("supplier").distinct(), as_listed=False)
    }
    files = claim_files(site, claims, reports)
    left = to_claim(site, list(reports.values()))
    return (
        sorted(files, key=lambda one: (one.next.by if one.next else today, str(one.claim))),
        sorted(
            (one for one in left if one.truck.dates.claim >= today), key=lambda one: (one.next.by, str(one.shipment))
        ),
    )


def to_claim(site: Site, reports: Sequence[DeliveryReport]) -> list[ToClaim]:
    """Return, truck by truck, what no claim asks for yet of what did not come whole."""
    keys = [report.shipment.pk for report in reports]
    taken: dict[int, int] = defaultdict(int)
    for shipment, number in Claim.objects.of(site).filter(shipment__in=keys).values_list("shipment", "number"):
        taken[shipment] = max(taken[shipment], number)
    claimed: dict[int, list[tuple[int | None, Found]]] = defaultdict(list)
    asked = ClaimLine.objects.of(site).filter(claim__in=claims_of(site).filter(shipment__in=keys))
    for line in asked.select_related("claim"):
        claimed[line.packing_line_id].append((line.claim.arrival_id, found_of(line)))
    found = []
    for report in reports:
        came = {truck.arrival.pk if truck.arrival else None for truck in report.trucks}
        for truck in report.trucks:
            others = came - {truck.arrival.pk if truck.arrival else None}
            lines = [(listed, still_to_claim(each, _asked(claimed[listed.pk], others))) for listed, each in truck.found]
            left = tuple((listed, each) for listed, each in lines if each.claimable)
            if left:
                act = next_act((), truck.dates, site.today())
                assert act is not None  # a claim that nobody opened has not ended
                found.append(ToClaim(report.shipment, truck, left, taken[report.shipment.pk] + 1, act))
    return found


def _asked(claimed: Iterable[tuple[int | None, Found]], others: Collection[int | None]) -> Found:
    """Return what claims ask for of a line: of what is missing all of it, of the rest what came with no other truck."""
    every = list(claimed)
    mine = [found for arrival, found in every if arrival not in others]
    return Found(
        short=sum(found.short for _, found in every),
        damaged=sum(found.damaged for found in mine),
        refused=sum(found.refused for found in mine),
        wrong=tuple(pair for found in mine for pair in found.wrong),
    )


def found_of(line: ClaimLine) -> Found:
    """Return what a line of a claim asks for."""
    wrong = to_ticks(line.wrong)
    return Found(
        short=to_ticks(line.short),
        damaged=to_ticks(line.damaged),
        refused=to_ticks(line.refused),
        wrong=((line.came, wrong),) if wrong else (),
    )

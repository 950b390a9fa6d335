"""What was done about claims: the kind of record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from kits.claims.course.claim_steps import ENDS, SETTLED, Step
from kits.claims.models import Claim, ClaimLine, ClaimStep
from kits.claims.queries import ToClaim, to_claim
from kits.claims.services import (
    lacking,
    order_replacements,
    record_steps,
    replace_after_all,
    replacement_name,
    withdraw_replacements,
)
from kits.gate.records import GATE_KEEPER
from kits.orders.models import Order, OrderLine
from kits.receiving.queries import delivery_reports
from kits.shipments.models import PackingLine, Shipment
from takeoff.people.permissions import CLAIM
from takeoff.records.minor_units import minor_or_wrong
from takeoff.records.record_kinds import AT, BY, ID, Filing, Keeper, RecordKind, register_kind
from takeoff.records.reported import reported, standing, taking
from takeoff.records.terms.errors import MalformedError, RecordError
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Choice, Number, Reference, Text, Whole
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks


@dataclass(slots=True, eq=False)
class Course:
    """A claim on its way: its lines and the steps that stand, in the order in which they were kept."""

    claim: Claim
    lines: list[ClaimLine]
    steps: list[ClaimStep] = field(default_factory=list)

    @property
    def end(self) -> ClaimStep | None:
        """The step that settled or dropped it."""
        return next((step for step in self.steps if Step(step.step) in ENDS), None)

    @property
    def replaced(self) -> bool:
        """Whether it is settled by replacement."""
        return bool(self.end and Step(self.end.step) is Step.REPLACEMENT)


class ClaimBook:
    """The claims of some shipments as records find and leave them; written at once at the end."""

    def __init__(self, site: Site, filings: Sequence[Filing]) -> None:
        self.site = site
        names = {(filing.reverses.row or {})["shipment"] for filing in filings if filing.reverses}
        asked = {filing["shipment"].pk for filing in filings if not filing.reverses}
        of_names = Shipment.objects.of(site).filter(name__in=names).values_list("pk", flat=True) if names else []
        shipments = asked | set(of_names)
        lines = ClaimLine.objects.of(site).select_related("packing_line__item", "packing_line__kit")
        by_claim: dict[int, list[ClaimLine]] = {}
        for line in lines.filter(claim__shipment__in=shipments).order_by("pk"):
            by_claim.setdefault(line.claim_id, []).append(line)
        claims = Claim.objects.of(site).filter(shipment__in=shipments).select_related("shipment__supplier")
        self.courses = {
            (claim.shipment_id, claim.number): Course(claim, by_claim.get(claim.pk, [])) for claim in claims
        }
        by_key = {course.claim.pk: course for course in self.courses.values()}
        self.steps: dict[str, tuple[Course, ClaimStep]] = {}
        for step in standing(ClaimStep.objects.of(site)).filter(claim__in=by_key).order_by("pk"):
            course = by_key[step.claim_id]
            course.steps.append(step)
            self.steps[step.event_id] = course, step
        rows = OrderLine.objects.of(site).filter(claim__in=by_key).values_list("claim", "order", "order__state")
        self.orders = {claim: order for claim, order, _ in rows}
        self.withdrawn = {order for _, order, state in rows if state == Order.State.CANCELLED}
        self.on_the_way = set(
            PackingLine.objects.of(site).filter(order__in=self.orders.values()).values_list("order", flat=True)
        )
        names = {
            replacement_name(Claim(shipment=filing["shipment"], number=filing["claim"]))
            for filing in filings
            if not filing.reverses
        }
        others = Order.objects.of(site).filter(name__in=names).exclude(pk__in=self.orders.values())
        self.names_taken = set(others.values_list("name", flat=True))
        new = {(filing["shipment"].pk, filing["claim"]) for filing in filings if not filing.reverses}
        opened = {shipment for shipment, number in new if (shipment, number) not in self.courses}
        self.left: list[ToClaim] = []
        if opened:
            chosen = Shipment.objects.of(site).filter(pk__in=opened).select_related("supplier")
            self.left = to_claim(site, delivery_reports(site, chosen))
        self.added: list[ClaimStep] = []
        self.taken_back: list[ClaimStep] = []

    def add(self, filing: Filing) -> None:
        """Add a step, and with the first of a claim the claim. Raises RecordError."""
        key = filing["shipment"].pk, filing["claim"]
        course = self.courses.get(key)
        if course is not None and not course.steps:
            raise RecordError(
                f"{course.claim} was taken back: open another under the next number.", column="claim",
                found=str(course.claim.number), expected="another number",
            )  # fmt: skip
        if course is not None and course.end:
            raise RecordError(
                f"{course.claim} is over: {course.end.step}. Take that back first.", column="step", found=filing["step"]
            )
        course = course or self.opened(filing)
        step = Step(filing["step"])
        if step is Step.REPLACEMENT:
            self.refuse_replacement(course)
        row = ClaimStep(
            claim=course.claim,
            step=step.value,
            amount=_amount(filing, step, self.site),
            reference=filing["reference"],
            note=filing["note"],
            **reported(filing),
        )
        self.courses[key] = course
        course.steps.append(row)
        self.steps[row.event_id] = course, row
        self.added.append(row)

    def opened(self, filing: Filing) -> Course:
        """Return a new claim with the lines that the report of its truck still gives. Raises RecordError."""
        shipment, arrival = filing["shipment"], filing["arrival"]
        left = [one for one in self.left if one.shipment == shipment]
        mine = [one for one in left if not arrival or str(one.truck.arrival or "") == arrival]
        if not mine:
            raise RecordError(
                f"Nothing of {shipment} is left to claim{' from that truck' if left else ''}.",
                column="arrival" if left else "shipment",
                found=arrival if left else str(shipment),
                expected=_trucks(left) if left else "a shipment of which goods are short, damaged, refused or wrong",
            )
        if len(mine) > 1:
            raise RecordError(
                "Goods of several trucks can be claimed: say of which.", column="arrival", expected=_trucks(mine)
            )
        (one,) = mine
        claim = Claim(shipment=shipment, number=filing["claim"], arrival=one.truck.arrival)
        lines = [
            ClaimLine(
                claim=claim,
                packing_line=listed,
                short=from_ticks(found.short),
                damaged=from_ticks(found.damaged),
                refused=from_ticks(found.refused),
                wrong=from_ticks(sum(quantity for _, quantity in found.wrong)),
                came=", ".join(what for what, _ in found.wrong)[:500],
            )
            for listed, found in one.lines
        ]
        self.left.remove(one)  # a second claim in the same batch asks for nothing twice
        return Course(claim, lines)

    def refuse_replacement(self, course: Course) -> None:
        """Raise RecordError where nobody could send anew what a claim asks for."""
        shipment = course.claim.shipment
        if shipment.supplier is None:
            raise RecordError(
                f"Nobody said who sent {shipment}: load its list with its supplier first.", column="step",
                found=Step.REPLACEMENT.value,
            )  # fmt: skip
        name = replacement_name(course.claim)
        if name in self.names_taken:
            raise RecordError(f"There is an order {name} already: call it something else first.", column="step")
        if not any(lacking(line) for line in course.lines):
            raise RecordError(
                f"{course.claim} lacks nothing that could be sent again: count its lines to the end first.",
                column="step", found=Step.REPLACEMENT.value,
            )  # fmt: skip

    def take_back(self, filing: Filing) -> None:
        """Let a step stand no longer. Raises RecordError."""
        assert filing.reverses is not None
        course, row = self.steps.get(filing.reverses.event_id, (None, None))
        if course is None or row is None or row not in course.steps:
            raise RecordError(f"{filing.reverses} was taken back before.", column="reverses")
        if row is course.steps[0] and len(course.steps) > 1:
            raise RecordError(f"It opened {course.claim}: take back its later steps first.", column="reverses")
        order = self.orders.get(course.claim.pk)
        if Step(row.step) is Step.REPLACEMENT and order in self.on_the_way:
            raise RecordError(f"The replacement of {course.claim} is on a packing list: it stays.", column="reverses")
        course.steps.remove(row)
        self.taken_back.append(ClaimStep(claim=course.claim, step=row.step, **taking(row, filing)))

    def write(self) -> None:
        """Write what is new, and order or withdraw what claims are settled with."""
        claims = [course.claim for course in self.courses.values() if course.claim.pk is None]
        lines = [line for course in self.courses.values() if course.claim.pk is None for line in course.lines]
        record_steps(claims=claims, lines=lines, steps=self.added, taken_back=self.taken_back)
        settled, withdrawn, again = [], [], []
        for course in self.courses.values():
            order = self.orders.get(course.claim.pk)
            if course.replaced and order is None:
                assert course.end is not None
                settled.append((course.claim, course.lines, self.site.local_date(course.end.at)))
            elif course.replaced and order in self.withdrawn:
                again.append(order)
            elif order is not None and order not in self.withdrawn and not course.replaced:
                withdrawn.append(course.claim)
        if withdrawn:
            withdraw_replacements(site=self.site, claims=withdrawn)
        if again:
            replace_after_all(site=self.site, orders=again)
        if settled:
            order_replacements(site=self.site, settled=settled)


class ClaimKeeper(Keeper):
    """Keeps what was done about claims, once what was counted is in the books."""

    order = 4
    locked_by = GATE_KEEPER  # shipments, too

    def lock(self, site: Site, filings: Sequence[Filing]) -> None:
        """Lock the shipments whose claims they are."""
        GATE_KEEPER.lock(site, filings)

    def keep(self, site: Site, filings: Sequence[Filing], *, again: bool = False) -> None:
        """Keep each record, or put on it why not."""
        book = ClaimBook(site, filings)
        for filing in filings:
            try:
                book.take_back(filing) if filing.reverses else book.add(filing)
            except RecordError as error:
                filing.error = error
        book.write()


class ClaimStepsKind(RecordKind):
    """What was done about a claim."""

    name = "claim_steps"
    did = "Claim"
    order = 288
    rank = 8
    help = "What was done about a claim: told the carrier, filed, answered, settled, dropped. The first step opens it."
    permission = CLAIM
    keeper = ClaimKeeper()
    looked_at = "shipment"
    prices = frozenset({"amount"})
    columns = (
        ID,
        Column("shipment", Reference(to="shipment"), "The shipment whose goods are claimed.", required=True),
        Column("step", Choice(tuple(step.value for step in Step)), "What was done.", required=True),
        AT,
        Column("claim", Whole(least=1), "Which claim of the shipment: 1, 2 and so on.", default=1),
        Column(
            "arrival",
            Text(80),
            "The id of the truck whose goods are claimed; the first step says it where several brought such goods.",
            default="",
            default_help="the one truck with something to claim",
        ),
        Column("reference", Text(60), "The number under which the carrier knows it.", default="", default_help="none"),
        Column("amount", Number(), "What it was settled for, in the site's money.", default_help="not said"),
        Column("note", Text(300), "What else there is to say.", default="", default_help="none"),
        BY,
    )

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the shipment that it is about."""
        return f"shipment {said['shipment']}"

    def told(self, said: Mapping[str, Any]) -> str:
        """Return the step, and of which claim it is."""
        return f"{self.did} {said.get('claim', 1)} of {said['shipment']}: {said['step']}"


def _amount(filing: Filing, step: Step, site: Site) -> int | None:
    """Return what was settled for in minor units. Raises MalformedError."""
    amount: Decimal | None = filing["amount"]
    if amount is None:
        return None
    if step not in SETTLED:
        raise MalformedError(
            "Only a claim that is settled has an amount.", column="amount", found=str(amount), expected="no amount"
        )
    return minor_or_wrong(filing, "amount", site)


def _trucks(left: Sequence[ToClaim]) -> str:
    """Return the ids of trucks with something to claim, in words."""
    return f"a truck's id: {', '.join(str(one.truck.arrival) for one in left)}"


register_kind(ClaimStepsKind())

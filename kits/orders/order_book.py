"""Orders as records find and leave them: steps and replies added or taken back, written at once at the end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from kits.orders.course.order_steps import DRAFT, OPEN, STATE_OF, Step, state_after, why_not
from kits.orders.course.still_coming import ordered_now
from kits.orders.models import How, Order, OrderDelivery, OrderLine, OrderStep
from kits.orders.order_doubts import divisible
from kits.orders.queries import last_reply
from kits.orders.services import record_course
from takeoff.records.minor_units import minor_or_wrong
from takeoff.records.record_kinds import Filing
from takeoff.records.reported import reported, standing, taking
from takeoff.records.terms.errors import MalformedError, RecordError
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks
from takeoff.units.shown import number


@dataclass(slots=True, eq=False)
class OrderCourse:
    """An order on its way: its lines, and the steps and deliveries that stand, as they were kept."""

    order: Order
    lines: list[OrderLine] = field(default_factory=list)
    steps: list[OrderStep] = field(default_factory=list)
    deliveries: dict[int, list[OrderDelivery]] = field(default_factory=dict)  # by line
    revision: int = 0  # the last that was ever sent

    @property
    def state(self) -> str:
        """How far it is by its steps and replies."""
        steps = [Step(step.step) for step in self.steps if step.line_id is None]
        return state_after(steps, answered=any(self.deliveries.values()))

    def confirmed(self, line: OrderLine) -> list[OrderDelivery]:
        """Return what counts as confirmed of a line."""
        return last_reply(self.deliveries.get(line.pk, ()))

    def line(self, filing: Filing) -> OrderLine:
        """Return the line that a record names by item or cable, run and length of a reel. Raises RecordError."""
        asked = {name: filing[name] for name in ("item", "cable", "run", "reel_length")}
        lines = [
            line
            for line in self.lines
            if all(value is None or getattr(line, name) == value for name, value in asked.items())
        ]
        if len(lines) != 1:
            what = "several such lines: say the run or the length of a reel" if lines else "no such line"
            found = str(filing["item"] or filing["cable"])
            raise RecordError(f"{self.order} has {what}.", column="item", found=found, expected="a line of the order")
        return lines[0]


class OrderBook:
    """The orders that records name. The caller holds their locks."""

    def __init__(self, site: Site, filings: Sequence[Filing]) -> None:
        self.site = site
        names = {filing.row.said.get("order") for filing in filings}
        names |= {(filing.reverses.row or {}).get("order") for filing in filings if filing.reverses}
        orders = Order.objects.of(site).filter(name__in=names - {None}).select_related("supplier")
        self.courses = {order.name: OrderCourse(order) for order in orders}
        by_key = {course.order.pk: course for course in self.courses.values()}
        lines = OrderLine.objects.of(site).filter(order__in=by_key).select_related("item", "cable", "run")
        of_line = {}
        for line in lines.order_by("pk"):
            of_line[line.pk] = by_key[line.order_id]
            of_line[line.pk].lines.append(line)
        self.kept: dict[str, list[OrderStep | OrderDelivery]] = {}
        for step in OrderStep.objects.of(site).filter(order__in=by_key).select_related("taken_back").order_by("pk"):
            course = by_key[step.order_id]
            course.revision = max(course.revision, step.revision or 0)
            if step.takes_back_id is None and not hasattr(step, "taken_back"):
                course.steps.append(step)
                self.kept.setdefault(step.event_id, []).append(step)
        for row in standing(OrderDelivery.objects.of(site)).filter(line__in=of_line).order_by("pk"):
            of_line[row.line_id].deliveries.setdefault(row.line_id, []).append(row)
            self.kept.setdefault(row.event_id, []).append(row)
        self.new_steps: list[OrderStep] = []
        self.new_deliveries: list[OrderDelivery] = []
        self.changed_lines: dict[int, OrderLine] = {}
        self.changed: dict[int, OrderCourse] = {}

    def of(self, filing: Filing) -> OrderCourse:
        """Return the order that a record names, where it can take what is said. Raises RecordError."""
        course = self.courses[str(filing["order"])]
        step = Step(filing.row.values.get("step") or Step.CONFIRMED)
        if why := why_not(step, course.state):
            raise RecordError(f"{course.order} {why}.", column="order", found=str(course.order))
        return course

    def add_step(self, filing: Filing) -> None:
        """Add a step, with what it confirms. Raises RecordError."""
        step = Step(filing["step"])
        if step is Step.DRAFTED and any(Step(one.step) is step for one in self.courses[str(filing["order"])].steps):
            raise RecordError(f"{filing['order']} was drafted before.", column="step", found=step.value)
        course = self.of(filing)
        line = course.line(filing) if filing["item"] is not None or filing["cable"] is not None else None
        if line is not None and step not in {Step.CANCELLED, Step.REDATED}:
            raise MalformedError(
                f"The step {step.value} is of the whole order.", column="item", expected="no item and no cable"
            )
        if line is not None and course.state not in OPEN:
            raise RecordError(f"{course.order} was not sent yet: take the line out of the draft.", column="item")
        if step is Step.SENT and not course.lines:
            raise RecordError(f"{course.order} has no line.", column="order", found=str(course.order))
        if step is Step.CONFIRMED and not filing["how"]:
            raise MalformedError("Say how they confirmed it.", column="how", expected="how their word came")
        row = OrderStep(
            order=course.order,
            line=line,
            step=step.value,
            whom=filing["whom"],
            how=filing["how"],
            po=filing["po"],
            expected=filing["expected"],
            revision=course.revision + 1 if step is Step.SENT else None,
            note=filing["note"],
            **reported(filing),
        )
        course.revision = row.revision or course.revision
        course.steps.append(row)
        self.new_steps.append(row)
        self.kept.setdefault(filing.id, []).append(row)
        if step is Step.CONFIRMED or (step is Step.REDATED and filing["expected"]):
            for each in [line] if line else course.lines:
                self.confirm_whole(course, each, filing)
        self.touch(course)

    def confirm_whole(self, course: OrderCourse, line: OrderLine, filing: Filing) -> None:
        """Let all of a line that is ordered come on the day that is said; of one that was confirmed, all of that."""
        if line.rest_cancelled:
            return
        before = [row for row in course.confirmed(line) if row.quantity]
        redated = Step(filing["step"]) is Step.REDATED and before
        quantity = sum((row.quantity for row in before), Decimal(0)) if redated else line.quantity
        how = filing["how"] or How.PHONE
        self.confirm(course, line, filing, quantity=quantity, on=filing["expected"], how=how, said_by=filing["whom"])

    def add_reply(self, filing: Filing) -> None:
        """Add what was confirmed of a line for one day. Raises RecordError."""
        course = self.of(filing)
        if filing["item"] is None and filing["cable"] is None:
            raise MalformedError("Say of which line.", column="item", expected="an item or a cable of the order")
        line = course.line(filing)
        quantity: Decimal = filing["quantity"]
        if quantity % 1 and (line.item is None or not divisible(line.item.unit)):
            raise MalformedError("It comes in whole pieces.", column="quantity", expected="a whole number")
        self.confirm(
            course,
            line,
            filing,
            quantity=quantity,
            on=filing["arrives"],
            how=filing["how"],
            said_by=filing["said_by"],
            reply=filing["reply"] or filing.id,
            price=minor_or_wrong(filing, "price", self.site),
            other_part=filing["other_part"],
            note=filing["note"],
        )
        total = ordered_now(0, (to_ticks(row.quantity) for row in course.confirmed(line)))
        if total > to_ticks(line.quantity):
            filing.look.append(
                f"{course.order} asks for {number(to_ticks(line.quantity))} of {line.item or line.cable}, and "
                f"{number(total)} are confirmed: is that meant? Then {number(total)} count as ordered."
            )
        self.touch(course)

    def confirm(self, course: OrderCourse, line: OrderLine, filing: Filing, **said: Any) -> None:
        """Add a delivery of a line."""
        row = OrderDelivery(line=line, **({"reply": filing.id} | reported(filing) | said))
        course.deliveries.setdefault(line.pk, []).append(row)
        self.new_deliveries.append(row)
        self.kept.setdefault(filing.id, []).append(row)

    def take_back(self, filing: Filing) -> None:
        """Let a step or a reply stand no longer. Raises RecordError."""
        assert filing.reverses is not None
        course = self.courses[(filing.reverses.row or {})["order"]]
        rows = [row for row in self.kept.get(filing.reverses.event_id, []) if self.stands(course, row)]
        if not rows:
            raise RecordError(f"{filing.reverses} was taken back before.", column="reverses")
        steps = [row for row in rows if isinstance(row, OrderStep)]
        for step in steps:
            if Step(step.step) in {Step.DRAFTED, Step.CHANGED}:
                raise RecordError("A draft is changed or dropped, not taken back.", column="reverses")
            self.refuse_earlier(course, step)
        for row in rows:
            if isinstance(row, OrderStep):
                course.steps.remove(row)
                self.new_steps.append(
                    OrderStep(order=course.order, line=row.line, step=row.step, **taking(row, filing))
                )
            else:
                course.deliveries[row.line_id].remove(row)
                self.new_deliveries.append(
                    OrderDelivery(
                        line=row.line, reply=row.reply, quantity=row.quantity, how=row.how, **taking(row, filing)
                    )
                )
        if any(step.po and step.po == course.order.po for step in steps):
            course.order.po = next((step.po for step in reversed(course.steps) if step.po), "")
        self.touch(course)

    def stands(self, course: OrderCourse, row: OrderStep | OrderDelivery) -> bool:
        """Return whether a row stands still."""
        rows: Iterable[OrderStep | OrderDelivery] = course.steps
        if isinstance(row, OrderDelivery):
            rows = course.deliveries.get(row.line_id, ())
        return any(one is row for one in rows)

    def refuse_earlier(self, course: OrderCourse, step: OrderStep) -> None:
        """Raise RecordError where something that hangs on a step still stands."""
        brings = step.line_id is None and Step(step.step) in STATE_OF
        later = course.steps[course.steps.index(step) + 1 :] if brings else []
        hangs = [one for one in later if Step(one.step) is not Step.CHASED and one.event_id != step.event_id]
        first_sent = step.revision is not None and not any(one.revision for one in course.steps if one is not step)
        if hangs or (first_sent and any(course.deliveries.values())):
            raise RecordError(
                f"Something was done about {course.order} since: take that back first.", column="reverses"
            )

    def touch(self, course: OrderCourse) -> None:
        """Bring an order and its lines to where its steps leave them."""
        order = course.order
        order.state = course.state if course.steps else order.state
        order.po = next((step.po for step in reversed(course.steps) if step.po), order.po)
        sent = next((step for step in course.steps if step.revision is not None), None)
        cancelled = {step.line_id for step in course.steps if step.line_id and Step(step.step) is Step.CANCELLED}
        for line in course.lines:
            if sent is not None and line.sent is None:
                line.sent = self.site.local_date(sent.at)
            if order.state in {DRAFT, Order.State.ASKED}:
                line.sent = None
            line.rest_cancelled = line.pk in cancelled
            self.changed_lines[line.pk] = line
        self.changed[order.pk] = course

    def write(self) -> None:
        """Write what is new, and where it leaves orders and lines."""
        record_course(
            site=self.site,
            steps=self.new_steps,
            deliveries=self.new_deliveries,
            orders=[course.order for course in self.changed.values()],
            lines=list(self.changed_lines.values()),
        )

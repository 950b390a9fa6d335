"""How orders stand: of each line what was confirmed, shipped, received and is still to come, and what comes next."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from kits.orders.course.order_steps import OPEN, PART_RECEIVED, NextAct, Standing, Step, next_act
from kits.orders.course.still_coming import Coming, ordered_now, still_coming
from kits.orders.models import How, Order, OrderDelivery, OrderLine, OrderStep
from kits.orders.queries import confirmed
from kits.receiving.models import ReceiptLine
from kits.receiving.queries import valid_counts
from kits.shipments.models import PackingLine
from kits.shortages.cable_reading import reels_on_order
from kits.shortages.item_books import lead_time
from kits.shortages.queries import working_days_of
from kits.shortages.reckon.working_days import WorkingDays
from reels.ledger.models import Reel
from takeoff.records.reported import standing
from takeoff.sites.models import Site
from takeoff.units.exact import SCALE, to_ticks

ReelsKey = tuple[str, int, int]  # order, cable, length of a reel in ticks


@dataclass(frozen=True, slots=True)
class LineStanding:
    """
    A line of an order, in ticks of its unit; of cable a reel is a unit. coming : what is still to come, by day.

    ordered : what counts as ordered. open : what is on no packing list yet. to_count : shipped and not counted yet.
    provisional : when what nobody answered comes by the lead time.
    """

    line: OrderLine
    ordered: int
    reply: tuple[OrderDelivery, ...]
    shipped: int
    received: int
    to_count: int
    coming: tuple[Coming, ...]
    provisional: date | None

    @property
    def open(self) -> int:
        """What is still to be shipped."""
        return sum(part.quantity for part in self.coming)

    @property
    def confirmed(self) -> int:
        """What was confirmed."""
        return sum(to_ticks(row.quantity) for row in self.reply)

    @property
    def spoken(self) -> bool:
        """Whether what was confirmed rests on a word by phone."""
        return any(row.how == How.PHONE for row in self.reply)

    @property
    def price(self) -> int | None:
        """The price of one unit: as confirmed, else as ordered; in minor units."""
        return next((row.price for row in self.reply if row.price is not None), self.line.price)

    @property
    def total(self) -> int | None:
        """What the line costs, in minor units; None where no price is known, nothing where it is free."""
        if self.line.kind == OrderLine.Charge.NO_CHARGE:
            return 0
        return None if self.price is None else round(Fraction(self.ordered, SCALE) * self.price)


@dataclass(frozen=True, slots=True)
class OrderStanding:
    """An order with its lines and the steps that stand. next : None once it is over."""

    order: Order
    lines: tuple[LineStanding, ...]
    steps: tuple[OrderStep, ...]
    next: NextAct | None

    @property
    def state(self) -> str:
        """How far it is; part received is worked out from counts."""
        received = any(line.received for line in self.lines)
        return PART_RECEIVED if received and self.order.state in OPEN else self.order.state

    @property
    def total(self) -> int:
        """What the lines with a price cost, in minor units."""
        return sum(line.total or 0 for line in self.lines)

    @property
    def without_price(self) -> int:
        """How many lines have no price."""
        return sum(line.total is None for line in self.lines)

    @property
    def revision(self) -> int:
        """The last revision that was sent; 0 before."""
        return max((step.revision or 0 for step in self.steps), default=0)

    @property
    def spoken(self) -> bool:
        """Whether something still to come rests on a word by phone."""
        return any(line.spoken and line.open for line in self.lines)


def standings(site: Site, orders: Iterable[Order]) -> list[OrderStanding]:
    """Return how some orders stand, in their order; in a number of queries that does not grow with them."""
    orders = list(orders)
    keys = [order.pk for order in orders]
    rows = OrderLine.objects.of(site).filter(order__in=keys).order_by("pk")
    lines: dict[int, list[OrderLine]] = defaultdict(list)
    for line in rows.select_related("item", "cable", "run"):
        lines[line.order_id].append(line)
    steps: dict[int, list[OrderStep]] = defaultdict(list)
    done = standing(OrderStep.objects.of(site)).filter(order__in=keys).select_related("recorded_by")
    for step in done.select_related("line__item", "line__cable").order_by("pk"):
        steps[step.order_id].append(step)
    replies = confirmed(site, keys)
    listed = _listed(site, keys)
    cable = any(line.cable_id for of_order in lines.values() for line in of_order)
    reels = Reel.objects.of(site) if cable else ()
    to_ship = _reels_to_come(site, reels)
    to_come = _reels_to_come(site, [reel for reel in reels if reel.state != Reel.State.ON_THE_WAY])
    days, today = working_days_of(site), site.today()
    found = []
    for order in orders:
        mine = []
        for line in lines[order.pk]:
            reply = tuple(replies.get(line.pk, ()))
            ordered = ordered_now(to_ticks(line.quantity), (to_ticks(row.quantity) for row in reply))
            if line.item_id is None:
                came = _of_reels(line, order, ordered, to_ship, to_come)
            else:
                came = _take(listed[order.pk, line.item_id], ordered)
            mine.append(_line(line, order, ordered, reply, came, days))
        found.append(_stands(site, order, tuple(mine), tuple(steps[order.pk]), today))
    return found


def _line(
    line: OrderLine,
    order: Order,
    ordered: int,
    reply: tuple[OrderDelivery, ...],
    came: tuple[int, int, int],
    days: WorkingDays,
) -> LineStanding:
    """Return how a line stands. came : shipped, received, and shipped but not counted yet."""
    ware = line.item or line.cable
    assert ware is not None
    own = ware.lead_time_days
    lead = lead_time(order.supplier.lead_time_days if own is None else own, order.supplier)
    open_ = order.state in OPEN and not line.rest_cancelled
    guessed = open_ and not reply and not line.expected
    return LineStanding(
        line,
        ordered,
        reply,
        *came,
        coming=still_coming(ordered, [(to_ticks(row.quantity), row.on) for row in reply], came[0]) if open_ else (),
        provisional=days.after(line.sent, lead) if guessed and line.sent and lead else None,
    )


def _stands(
    site: Site, order: Order, lines: tuple[LineStanding, ...], steps: tuple[OrderStep, ...], today: date
) -> OrderStanding:
    coming = [line for line in lines if line.open]
    answered = any(line.reply for line in lines)
    days = [part.on for line in coming for part in line.coming if part.on]
    days += [line.line.expected for line in coming if line.line.expected and not line.reply]
    days += [line.provisional for line in coming if line.provisional and line.provisional >= today]
    spoken = [site.local_date(row.at) for line in coming for row in line.reply if row.how == How.PHONE]
    chased = [site.local_date(step.at) for step in steps if Step(step.step) in {Step.CHASED, Step.REDATED}]
    since = [site.local_date(step.at) for step in steps if step.line_id is None and Step(step.step) is not Step.CHANGED]
    act = next_act(
        Standing(
            order.state,
            since=since[-1] if since else today,
            number=bool(order.po),
            unanswered=any(not line.reply for line in coming) and (answered or order.state == Order.State.SENT),
            undated=any(part.on is None for line in coming if line.reply for part in line.coming),
            spoken=min(spoken, default=None),
            next_day=min(days, default=None),
            chased=max(chased, default=None),
            left=bool(coming) or not lines,
            to_count=any(line.to_count for line in lines),
        ),
        today,
    )
    return OrderStanding(order, lines, steps, act)


def _listed(site: Site, orders: Sequence[int]) -> dict[tuple[int, int], list[list[int]]]:
    """Return by order and item [listed, counted, to count] of each line of a packing list that answers the order."""
    rows = list(PackingLine.objects.of(site).filter(order__in=orders).order_by("pk"))
    counts: dict[int, list[ReceiptLine]] = defaultdict(list)
    for row in valid_counts(site).filter(packing_line__in=[row.pk for row in rows]):
        assert row.packing_line_id is not None
        counts[row.packing_line_id].append(row)
    found: dict[tuple[int, int], list[list[int]]] = defaultdict(list)
    for line in rows:
        assert line.order_id is not None
        counted = sum(to_ticks(row.covers) for row in counts[line.pk])
        closed = any(not row.partial for row in counts[line.pk])
        quantity = to_ticks(line.quantity)
        found[line.order_id, line.item_id].append([quantity, counted, 0 if closed else max(0, quantity - counted)])
    return found


def _take(listed: list[list[int]], most: int) -> tuple[int, int, int]:
    """Take up to `most` of what was listed, for one line; the next line of the item takes the rest."""
    shipped = received = to_count = 0
    for one in listed:
        part = min(one[0], most - shipped)
        got, left = min(one[1], part), min(one[2], part)
        shipped, received, to_count = shipped + part, received + got, to_count + left
        one[0], one[1], one[2] = one[0] - part, one[1] - got, one[2] - left
    return shipped, received, to_count


def _of_reels(
    line: OrderLine, order: Order, ordered: int, to_ship: Mapping[ReelsKey, int], to_come: Mapping[ReelsKey, int]
) -> tuple[int, int, int]:
    """Return how many reels of a line were shipped, came, and are on the way; of one that is over nobody knows."""
    if order.state not in OPEN or line.rest_cancelled or line.cable_id is None or line.reel_length is None:
        return 0, 0, 0
    key = order.name, line.cable_id, to_ticks(line.reel_length)
    shipped, received = ordered - to_ship.get(key, 0), ordered - to_come.get(key, 0)
    return shipped, received, shipped - received


def _reels_to_come(site: Site, reels: Collection[Reel]) -> dict[ReelsKey, int]:
    """Return by order, cable and length how many reels are still to come beside these, as ticks of a reel."""
    found: dict[ReelsKey, int] = defaultdict(int)
    for cable, rows in reels_on_order(site, reels).items():
        for row in rows:
            found[row.order, cable, row.length] += row.count * SCALE
    return found

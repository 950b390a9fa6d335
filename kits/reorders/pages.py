"""What the pages of orders show."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from kits.orders.models import Order, OrderFile, OrderLine
from kits.orders.queries import asked_for
from kits.reorders.proposals import Proposed, why_left_out
from kits.reorders.queries import propose
from kits.reorders.standing_orders import OrderStanding, standings
from takeoff.catalogue.models import Supplier
from takeoff.sites.models import Site

LAST_OVER = 30
SECTIONS = (
    ("late", "Did not come: chase them"),
    ("writing", "Said by phone two days ago: ask for it in writing"),
    ("reply", "Waiting for a reply"),
    ("send", "Drafts to send"),
    ("approval", "Waiting for approval"),
    ("number", "Sent, number to follow"),
    ("close", "All of it came"),
    ("due", "Coming"),
    ("count", "Shipped, not counted yet"),
)


@dataclass(frozen=True, slots=True)
class OrdersPage:
    """The orders of a site, of one supplier or of all, by what is to be done about them."""

    sections: tuple[tuple[str, str, tuple[OrderStanding, ...]], ...]
    over: Sequence[Order]
    suppliers: Sequence[Supplier]
    supplier: Supplier | None
    today: date

    @property
    def open(self) -> int:
        """How many are not over."""
        return sum(len(rows) for _, _, rows in self.sections)

    @property
    def figures(self) -> list[tuple[str, int]]:
        """How many wait for whom, in words; what is nothing left out."""
        counts = {kind: len(rows) for kind, _, rows in self.sections}
        words = (("late", "late"), ("reply", "waiting for a reply"), ("send", "to send"))
        return [(word, counts[kind]) for kind, word in words if counts.get(kind)]


def open_orders(site: Site) -> QuerySet[Order]:
    """Return the orders about which something is still to be done."""
    over = (Order.State.CLOSED, Order.State.CANCELLED)
    return Order.objects.of(site).exclude(state__in=over).select_related("supplier", "site")


def orders_page(site: Site, supplier_id: int | None = None) -> OrdersPage:
    """Return what the list of orders shows; of those that are over the last ones."""
    orders, over = open_orders(site).order_by("name"), Order.objects.of(site).select_related("supplier")
    over = over.filter(state__in=(Order.State.CLOSED, Order.State.CANCELLED))
    suppliers = list(Supplier.objects.of(site).filter(orders__isnull=False).distinct().order_by("name"))
    chosen = next((one for one in suppliers if one.pk == supplier_id), None)
    if chosen is not None:
        orders, over = orders.filter(supplier=chosen), over.filter(supplier=chosen)
    found = standings(site, orders)
    return OrdersPage(in_sections(found), list(over.order_by("-pk")[:LAST_OVER]), suppliers, chosen, site.today())


def sections_due(site: Site) -> tuple[tuple[str, str, tuple[OrderStanding, ...]], ...]:
    """Return the orders about which a purchaser has something to do, by what it is."""
    return tuple(
        section for section in in_sections(standings(site, open_orders(site))) if section[0] not in {"due", "count"}
    )


def in_sections(found: Iterable[OrderStanding]) -> tuple[tuple[str, str, tuple[OrderStanding, ...]], ...]:
    """Return orders by what comes next of them, each section by its day; empty ones left out."""
    rows = [one for one in found if one.next]
    sections = (
        (kind, words, tuple(sorted((one for one in rows if one.next and one.next.kind == kind), key=_first)))
        for kind, words in SECTIONS
    )
    return tuple(section for section in sections if section[2])


def _first(one: OrderStanding) -> tuple[date, str]:
    assert one.next is not None
    return one.next.on, one.order.name


@dataclass(frozen=True, slots=True)
class OrderPage:
    """One order. drafts : by item or cable of its lines, what colleagues' drafts ask for; only of one not sent yet."""

    standing: OrderStanding
    files: Sequence[OrderFile]
    drafts: dict[int, tuple[OrderLine, ...]]

    @property
    def order(self) -> Order:
        """The order itself."""
        return self.standing.order


def order_page(site: Site, order: Order) -> OrderPage:
    """Return what the page of one order shows."""
    (found,) = standings(site, [order])
    files = OrderFile.objects.of(site).filter(order=order).select_related("made_by").defer("content")
    drafts: dict[int, tuple[OrderLine, ...]] = {}
    if not Order.State(order.state).is_open:
        others = [line for line in asked_for(site) if line.order_id != order.pk]
        for row in found.lines:
            ware = (row.line.item_id, row.line.cable_id)
            drafts[row.line.pk] = tuple(one for one in others if (one.item_id, one.cable_id) == ware)
    return OrderPage(found, list(files.order_by("-revision")), drafts)


@dataclass(frozen=True, slots=True)
class NewOrder:
    """What would be ordered of one supplier."""

    supplier: str
    lines: tuple[Proposed, ...]

    @property
    def total(self) -> int:
        """What the lines with a price cost, in minor units."""
        return sum(line.cost or 0 for line in self.lines)

    @property
    def without_price(self) -> int:
        """How many lines have no price."""
        return sum(line.cost is None for line in self.lines)


@dataclass(frozen=True, slots=True)
class NewOrdersPage:
    """What would be drafted of what was ticked, by supplier, and what would be left out and why."""

    orders: tuple[NewOrder, ...]
    left_out: tuple[tuple[Proposed, str], ...]
    nothing: int  # how many of the ticked ones lack nothing any more


def new_orders_page(site: Site, wares: Sequence[str]) -> NewOrdersPage:
    """Return what would be drafted of the ticked wares."""
    lines = propose(site, wares)
    left_out = [(line, why) for line in lines if (why := why_left_out(line))]
    taken = [line for line in lines if not why_left_out(line)]
    suppliers = sorted({line.supplier for line in taken})
    orders = tuple(NewOrder(one, tuple(line for line in taken if line.supplier == one)) for one in suppliers)
    return NewOrdersPage(orders, tuple(left_out), len({*wares} - {line.ware for line in lines}))

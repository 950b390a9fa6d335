"""What the books say of buying cable: how each is bought, and which reels are on order. Lengths in ticks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from fractions import Fraction

from kits.orders.course.still_coming import ordered_now, still_coming
from kits.orders.models import Order, OrderLine
from kits.orders.queries import confirmed
from kits.shipments.models import PackingLine
from kits.shortages.item_books import lead_time
from kits.shortages.reckon.lines import CableWare, ReelsOnOrder
from kits.shortages.reckon.reels_to_order import still_to_come
from reels.ledger.models import Reel
from takeoff.catalogue.models import Cable
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks
from takeoff.units.lengths import FOOT
from takeoff.units.sizes import told_size

METRE = 10_000_000  # ticks


def cable_wares(site: Site) -> dict[int, CableWare]:
    """Return how each cable of a site is bought, by its key, in one query."""
    return {cable.pk: _ware(site, cable) for cable in Cable.objects.of(site).select_related("supplier")}


def reels_on_order(site: Site, reels: Iterable[Reel]) -> dict[int, tuple[ReelsOnOrder, ...]]:
    """
    Return the reels of each cable that orders are still to bring, by the cable's key, in three queries.

    reels : those of the site, here, gone or on the way. One that came off no other and whose shipment is an order, its
    purchase order, or a shipment that answers it came against that order.
    """
    ordered: dict[int, dict[int, list[ReelsOnOrder]]] = defaultdict(lambda: defaultdict(list))
    orders: dict[str, set[int]] = defaultdict(set)
    open_states = [state for state in Order.State if state.is_open]
    lines = OrderLine.objects.of(site).filter(cable__isnull=False, order__state__in=open_states, rest_cancelled=False)
    replies = confirmed(site)
    for line in lines.select_related("order").order_by("order__name", "pk"):
        assert line.cable_id is not None
        assert line.reel_length is not None
        reply = [(int(row.quantity), row.on) for row in replies.get(line.pk, ())]
        for part in still_coming(ordered_now(int(line.quantity), (count for count, _ in reply)), reply, 0):
            on = part.on if reply else line.expected
            reel = ReelsOnOrder(line.order.name, to_ticks(line.reel_length), part.quantity, on)
            ordered[line.cable_id][line.order_id].append(reel)
        for name in filter(None, (line.order.name, line.order.po)):
            orders[name].add(line.order_id)
    answering = PackingLine.objects.of(site).filter(order__isnull=False).order_by()
    for name, order in answering.values_list("shipment__name", "order_id").distinct():
        orders[name].add(order)
    came: dict[int, list[Reel]] = defaultdict(list)
    for one in reels:
        if one.parent_id is None and one.delivery in orders:
            came[one.cable_id].append(one)
    return {cable: _of_cable(of_orders, orders, came[cable]) for cable, of_orders in ordered.items()}


def _of_cable(
    of_orders: Mapping[int, list[ReelsOnOrder]], orders: Mapping[str, set[int]], came: Iterable[Reel]
) -> tuple[ReelsOnOrder, ...]:
    """Return what a cable's orders are still to bring; a reel that may be of several closes one of the first."""
    waiting = sorted(came, key=lambda reel: (-reel.length, reel.tag))
    found: list[ReelsOnOrder] = []
    for order, lines in of_orders.items():
        room = sum(line.count for line in lines)
        mine = [reel for reel in waiting if order in orders[reel.delivery]][:room]
        waiting = [reel for reel in waiting if reel not in mine]
        found += still_to_come(lines, [to_ticks(reel.length) for reel in mine])
    return tuple(found)


def _ware(site: Site, cable: Cable) -> CableWare:
    words = (told_size(cable.size), str(cable.get_material_display()).lower(), cable.insulation)
    return CableWare(
        id=cable.pk,
        description=" ".join(word for word in words if word),
        sold=tuple(sorted(cable.buy_lengths)),
        least=to_ticks(cable.min_order),
        supplier_id=cable.supplier_id,
        supplier=cable.supplier.name if cable.supplier else "",
        supplier_part=cable.supplier_part,
        lead=lead_time(cable.lead_days, cable.supplier),
        cost_of_a_tick=None
        if cable.unit_cost is None
        else Fraction(cable.unit_cost, FOOT if site.unit == Site.Unit.FEET else METRE),
    )

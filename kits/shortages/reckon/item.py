"""From an item's books to its line: needs, learned use, projection, causes and what to order, all exact."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import accumulate, groupby, pairwise

from kits.shortages.reckon import causes, order_quantity, usage
from kits.shortages.reckon.lines import Delivery, Evidence, LearnedUsage, ShortItem, ShortLine, StageNeed, Substitute
from kits.shortages.reckon.projection import Dated, LotStock, order_by, project, too_late, usable


@dataclass(frozen=True, slots=True)
class Terms:
    """What a site sets for its shortages. `level`: service level; `prior_stages`: weight of the plan in learned use."""

    as_of: date
    buffer_days: int = 3
    level: Fraction = Fraction(95, 100)
    prior_stages: Fraction = Fraction(2)


@dataclass(frozen=True, slots=True)
class StageBook:
    """A stage of a run in an item's books. Quantities in ticks, meaning what `StageNeed` says."""

    run_id: int
    run: str
    stage: str
    planned: date | None = None
    done: bool = False
    takeoff: int = 0
    drawn: int = 0
    issued: int = 0


@dataclass(frozen=True, slots=True)
class PackedLine:
    """A line of a packing list. `counted`: on it so far; a closed line brings no more. `package`: what it lies in."""

    shipment: str
    listed: int
    counted: int = 0
    closed: bool = False
    expected: date | None = None
    package: str = ""

    @property
    def uncounted(self) -> int:
        """What the line still brings."""
        return 0 if self.closed else max(0, self.listed - self.counted)


@dataclass(frozen=True, slots=True)
class OrderedLine:
    """A line of an order. `shipped`: on packing lists against it. `open`: what is not shipped is still to come."""

    order: str
    quantity: int
    shipped: int = 0
    open: bool = True
    expected: date | None = None

    @property
    def on_order(self) -> int:
        """What no shipment has taken up yet."""
        return max(0, self.quantity - self.shipped) if self.open else 0

    @property
    def ordered(self) -> int:
        """What was ordered, net of what an order closed or cancelled will not bring."""
        return self.quantity if self.open else min(self.quantity, self.shipped)


@dataclass(frozen=True, slots=True)
class ItemBooks:
    """
    All that a site's books say of one item as of a date. [ticks]

    lots : good stock in bins and kit boxes. counted : taken over from suppliers, by the ledger. The rest are totals
    as in `causes.Books`.
    """

    item: ShortItem
    stages: tuple[StageBook, ...] = ()
    lots: tuple[LotStock, ...] = ()
    packing: tuple[PackedLine, ...] = ()
    orders: tuple[OrderedLine, ...] = ()
    promised: int = 0
    counted: int = 0
    rejected: int = 0
    scrapped: int = 0
    lost: int = 0
    elsewhere: int = 0
    substitutes: tuple[Substitute, ...] = ()

    @property
    def has_records(self) -> bool:
        """Whether anything of the item was ever promised, ordered, sent or moved."""
        return bool(self.stages or self.lots or self.packing or self.orders or self.promised or self.counted)


def reckon(books: ItemBooks, terms: Terms) -> ShortLine:
    """
    Return the line of an item.

    An item that comes fitted on another part is not needed loose: its stages count no takeoff.
    Raises BooksDoNotAddUp when the item's quantities do not.
    """
    stages = _loose(books)
    belief = _belief(stages, terms) if books.item.varies else None
    needs = tuple(_need(stage, belief, terms.as_of) for stage in stages)
    deliveries = _deliveries(books, terms.as_of)
    need = sum(n.need for n in needs)
    wanted = covered_needs(needs, belief, terms)
    covered = sum(d.quantity for d in wanted)
    on_hand = sum(lot.quantity for lot in books.lots)
    good = usable(books.lots, terms.as_of)
    totals = causes.ItemTotals(
        takeoff=sum(n.takeoff for n in needs),
        drawn=sum(n.drawn for n in needs),
        promised=books.promised,
        ordered=sum(line.ordered for line in books.orders),
        on_order=sum(line.on_order for line in books.orders),
        shipped=sum(line.listed for line in books.packing),
        counted=books.counted,
        uncounted=sum(line.uncounted for line in books.packing),
        rejected=books.rejected,
        expired=on_hand - good,
        lost=books.lost,
        scrapped=books.scrapped,
        elsewhere=books.elsewhere,
        issued=sum(n.issued for n in needs),
        need=need,
    )
    coming = [Dated(d.quantity, d.on) for d in deliveries]
    walk = project(terms.as_of, books.lots, coming, wanted)
    short_on = walk.short_on
    if walk.short and any(n.planned is None and (n.need or n.expected) for n in needs):
        # An undated need makes an item short, but no day on which it runs out.
        dated = covered_needs([n for n in needs if n.planned is not None], belief, terms)
        short_on = project(terms.as_of, books.lots, coming, dated).short_on
    learned = covered - need
    line = ShortLine(
        item=books.item,
        takeoff=totals.takeoff,
        drawn=totals.drawn,
        promised=totals.promised,
        ordered=totals.ordered,
        shipped=totals.shipped,
        counted=totals.counted,
        rejected=totals.rejected,
        on_hand=on_hand,
        usable=good,
        issued=totals.issued,
        used=sum(n.issued for n in needs if n.done),
        inbound=totals.inbound,
        need=need,
        need_expected=sum(n.expected for n in needs),
        need_covered=covered,
        short=walk.short,
        short_on=short_on,
        order_by=order_by(short_on, buffer_days=terms.buffer_days, lead_days=books.item.lead_days),
        order=order_quantity.order_quantity(short=walk.short, pack=books.item.pack, min_order=books.item.min_order),
        learned=learned,
        timing=walk.short - max(0, need - good - totals.inbound + learned),
        causes=causes.split(totals),
        needs=needs,
        deliveries=deliveries,
        steps=walk.steps,
        usage=_learned(stages, belief, terms.level),
        substitutes=books.substitutes,
        too_late=too_late(walk, deliveries),
    )
    causes.check(line)
    return line


def covered_needs(needs: Iterable[StageNeed], belief: usage.Belief | None, terms: Terms) -> list[Dated]:
    """
    Return what has to be there, by the day on which it counts. [ticks]

    With fixed use that is each day's need. With learned use it is what the cover of the pool up to that day adds to
    the cover of the day before, so that the days add up to the cover of the whole pool, taken once.
    """
    ahead = sorted((n for n in needs if n.need or n.expected), key=lambda n: n.due)
    days = [(day, list(group)) for day, group in groupby(ahead, key=lambda n: n.due)]
    if belief is None:
        return [Dated(sum(n.need for n in group), day) for day, group in days]
    pool = accumulate(sum(n.expected for n in group) for _, group in days)
    cover = [0, *(usage.covered_use(belief, expected=expected, level=terms.level) for expected in pool)]
    return [Dated(after - before, day) for (day, _), (before, after) in zip(days, pairwise(cover), strict=True)]


def _loose(books: ItemBooks) -> tuple[StageBook, ...]:
    if not books.item.fitted:
        return books.stages
    return tuple(
        StageBook(s.run_id, s.run, s.stage, s.planned, s.done, issued=s.issued) for s in books.stages if s.issued
    )


def _belief(stages: Sequence[StageBook], terms: Terms) -> usage.Belief | None:
    plans = [stage.takeoff for stage in stages if stage.takeoff > 0]
    if not plans:
        return None
    finished = [(stage.takeoff, stage.issued) for stage in stages if stage.done]
    return usage.learn(finished, mean_stage=Fraction(sum(plans), len(plans)), prior_stages=terms.prior_stages)


def _need(stage: StageBook, belief: usage.Belief | None, as_of: date) -> StageNeed:
    need = 0 if stage.done else max(0, stage.takeoff - stage.issued)
    expected = need
    if belief is not None:
        expected = 0 if stage.done else usage.expected_use(belief, planned=stage.takeoff, issued=stage.issued)
    return StageNeed(
        run_id=stage.run_id,
        run=stage.run,
        stage=stage.stage,
        planned=stage.planned,
        due=as_of if stage.planned is None else max(as_of, stage.planned),
        done=stage.done,
        takeoff=stage.takeoff,
        drawn=stage.drawn,
        issued=stage.issued,
        need=need,
        expected=expected,
    )


def _deliveries(books: ItemBooks, as_of: date) -> tuple[Delivery, ...]:
    """Return what is still to come, all that one shipment or order brings on a day together."""
    coming = [("shipment", line.shipment, line.expected, line.uncounted, line.package) for line in books.packing]
    coming += [("order", line.order, line.expected, line.on_order, "") for line in books.orders]
    quantities: dict[tuple[str, str, date | None], int] = defaultdict(int)
    packages: dict[tuple[str, str, date | None], set[str]] = defaultdict(set)
    for kind, name, on, quantity, package in coming:
        if quantity:
            quantities[kind, name, on] += quantity
            packages[kind, name, on].update({package} - {""})
    deliveries = [
        Delivery(
            kind,
            name,
            quantity,
            on,
            late=on is not None and on < as_of,
            packages=tuple(sorted(packages[kind, name, on])),
        )
        for (kind, name, on), quantity in quantities.items()
    ]
    return tuple(sorted(deliveries, key=lambda d: (d.on is None, d.on or date.max, d.kind, d.name)))


def _learned(stages: Sequence[StageBook], belief: usage.Belief | None, level: Fraction) -> LearnedUsage | None:
    if belief is None:
        return None
    used = [(stage, Evidence(stage.run, stage.stage, stage.takeoff, stage.issued)) for stage in stages]
    return LearnedUsage(
        mean_stage=belief.mean_stage,
        rate=belief.rate,
        kappa=belief.kappa,
        nu=belief.nu,
        phi=belief.phi,
        level=level,
        evidence=tuple(evidence for stage, evidence in used if stage.done and stage.takeoff > 0),
        unplanned=tuple(e for stage, e in used if stage.done and stage.takeoff <= 0 and e.used > 0),
        handed_out=tuple(e for stage, e in used if not stage.done and stage.takeoff <= 0 and e.used > 0),
    )

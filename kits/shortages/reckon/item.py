"""From an item's books to its line: needs, learned use, projection, causes and what to order, all exact."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import accumulate, groupby, pairwise

from kits.shortages.reckon import causes, order_quantity, usage
from kits.shortages.reckon.lines import (
    Delivery,
    Evidence,
    LearnedUsage,
    ShortItem,
    ShortLine,
    StageNeed,
    Substitute,
    Walk,
)
from kits.shortages.reckon.made_for import Runs, groups
from kits.shortages.reckon.projection import (
    Dated,
    LotStock,
    Projection,
    all_here,
    expedite,
    project,
    too_late,
    usable,
)
from kits.shortages.reckon.working_days import LeadTime, WorkingDays


@dataclass(frozen=True, slots=True)
class Terms:
    """What a site sets for its shortages. `level`: service level."""

    as_of: date
    buffer_days: int = 3
    level: Fraction = Fraction(95, 100)
    working_days: WorkingDays = field(default_factory=WorkingDays)


@dataclass(frozen=True, slots=True)
class StageBook:
    """
    A stage of a run in an item's books. Quantities in ticks, meaning what `StageNeed` says.

    done_on : the day on which it was done. unused : somebody said that it used nothing. counts : those of crews' gang
    boxes that told, of several stages together, what they had used. in_box : the next such count will tell it.
    """

    run_id: int
    run: str
    stage: str
    planned: date | None = None
    done: bool = False
    takeoff: int = 0
    drawn: int = 0
    issued: int = 0
    done_on: date | None = None
    unused: bool = False
    counts: frozenset[int] = frozenset()
    in_box: bool = False

    @property
    def asked(self) -> bool:
        """Whether it is done with nothing handed out, and nobody said what it used: no sign of use, nor of none."""
        return self.done and self.takeoff > 0 and self.issued <= 0 and not self.unused


@dataclass(frozen=True, slots=True)
class PackedLine:
    """
    A line of a packing list. `counted`: on it so far; a closed line brings no more. `package`: what it lies in.

    fits : the runs that it is made for, None for every run. begun : the shipment came, or some line of it was counted.
    """

    shipment: str
    listed: int
    counted: int = 0
    closed: bool = False
    expected: date | None = None
    package: str = ""
    fits: Runs | None = None
    begun: bool = False

    @property
    def uncounted(self) -> int:
        """What the line still brings."""
        return 0 if self.closed else max(0, self.listed - self.counted)


@dataclass(frozen=True, slots=True)
class OrderedLine:
    """
    A line of an order. `shipped`: on packing lists against it. `open`: what is not shipped is still to come.

    sent : when it was sent. lead : the lead time of who it was sent to; with `sent` it gives a provisional day.
    free : a free replacement, not to be paid. fits : the runs that it is made for, None for every run.
    """

    order: str
    quantity: int
    shipped: int = 0
    open: bool = True
    expected: date | None = None
    sent: date | None = None
    lead: LeadTime | None = None
    free: bool = False
    fits: Runs | None = None

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
    as in `causes.ItemTotals`. drafts : by name, what orders that are not sent yet ask for. sizes : of what is made for
    runs, by run.
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
    drafts: tuple[tuple[str, int], ...] = ()
    sizes: Mapping[int, str] = field(default_factory=dict)

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
    belief = _belief(stages, books.item.prior)
    needs = tuple(_need(stage, belief, terms.as_of) for stage in stages)
    deliveries = _deliveries(books, terms)
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
    pooled = _walk(books, needs, deliveries, wanted, terms)
    walks = _up_to_least(books.item, tuple(_walks(books, needs, terms))) if books.item.for_run else ()
    apart = walks or (pooled,)
    short, order = sum(walk.short for walk in apart), sum(walk.order for walk in apart)
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
        short=short,
        short_on=_first(walk.short_on for walk in apart),
        order_by=_first(walk.order_by for walk in apart),
        order=order,
        learned=learned,
        timing=pooled.short - max(0, need - good - totals.inbound + learned),
        causes=causes.split(totals),
        needs=needs,
        deliveries=deliveries,
        steps=pooled.steps,
        usage=_learned(stages, belief, books.item.prior, terms.level),
        substitutes=books.substitutes,
        too_late=tuple(late for walk in apart for late in walk.too_late),
        expedite=sum(walk.expedite for walk in apart),
        spare=sum(walk.spare for walk in apart),
        out_on=_first(walk.out_on for walk in apart),
        need_by=_first(walk.need_by for walk in apart),
        comes_on=_first(walk.comes_on for walk in apart),
        drafts=books.drafts,
        free=sum(line.ordered for line in books.orders if line.free),
        other_runs=short - pooled.short,
        walks=walks,
    )
    causes.check(line)
    return line


def _walks(books: ItemBooks, needs: Sequence[StageNeed], terms: Terms) -> Iterator[Walk]:
    """Yield the walk of each group of runs that share what is made for them; what fits nobody serves nobody."""
    pieces: list[LotStock | PackedLine | OrderedLine] = [lot for lot in books.lots if usable([lot], terms.as_of)]
    pieces += [line for line in books.packing if line.uncounted]
    pieces += [line for line in books.orders if line.on_order]
    item = replace(books.item, min_order=0)  # the supplier's least is of all runs together
    for runs in groups([need.run_id for need in needs], [piece.fits or frozenset() for piece in pieces]):
        mine = [need for need in needs if need.run_id in runs]
        if not mine:
            continue
        own = replace(
            books,
            item=item,
            lots=tuple(lot for lot in books.lots if lot.fits and lot.fits <= runs),
            packing=tuple(line for line in books.packing if line.fits and line.fits <= runs),
            orders=tuple(line for line in books.orders if line.fits and line.fits <= runs),
        )
        yield _walk(own, mine, _deliveries(own, terms), covered_needs(mine, None, terms), terms)


def _up_to_least(item: ShortItem, walks: tuple[Walk, ...]) -> tuple[Walk, ...]:
    """Return walks that together order what the supplier takes at least: the first that runs out orders the rest."""
    ordering = [walk for walk in walks if walk.order]
    lacks = item.min_order - sum(walk.order for walk in ordering)
    if not ordering or lacks <= 0:
        return walks
    first = min(ordering, key=lambda walk: (walk.out_on or date.max, walk.runs))
    more = order_quantity.order_quantity(short=lacks, pack=item.pack)
    return tuple(replace(walk, order=walk.order + more) if walk is first else walk for walk in walks)


def _walk(
    books: ItemBooks,
    needs: Sequence[StageNeed],
    deliveries: Sequence[Delivery],
    wanted: Sequence[Dated],
    terms: Terms,
) -> Walk:
    """Return what is short of stock and deliveries that serve some needs. wanted : what has to be there, by day."""
    coming = [Dated(d.quantity, d.on) for d in deliveries]
    expected = [Dated(n.expected, n.due) for n in needs]
    # An undated need makes an item short, but no day on which it runs out.
    dated = [Dated(n.expected, n.due) for n in needs if n.planned is not None]
    as_it_stands = project(terms.as_of, books.lots, coming, wanted)
    here = all_here(terms.as_of, books.lots, coming, wanted)
    to_order = _in_packs(books.item, here)
    out_on = all_here(terms.as_of, books.lots, coming, dated).short_on
    need_by, lead = None if out_on is None else out_on - timedelta(days=terms.buffer_days), books.item.lead
    return Walk(
        runs=tuple(dict.fromkeys(n.run for n in needs)),
        size=", ".join(dict.fromkeys(books.sizes[n.run_id] for n in needs if n.run_id in books.sizes)),
        need=sum(n.need for n in needs),
        usable=usable(books.lots, terms.as_of),
        inbound=sum(d.quantity for d in deliveries),
        short=as_it_stands.short,
        short_on=project(terms.as_of, books.lots, coming, dated).short_on,
        order=to_order,
        spare=to_order - _in_packs(books.item, all_here(terms.as_of, books.lots, coming, expected)),
        out_on=out_on,
        need_by=need_by,
        order_by=terms.working_days.before(need_by, lead) if need_by and lead else None,
        comes_on=terms.working_days.after(terms.as_of, lead) if to_order and lead else None,
        expedite=expedite(as_it_stands, here),
        too_late=too_late(as_it_stands, here, deliveries),
        steps=as_it_stands.steps,
    )


def _first(days: Iterable[date | None]) -> date | None:
    return min((day for day in days if day is not None), default=None)


def covered_needs(needs: Iterable[StageNeed], belief: usage.Belief | None, terms: Terms) -> list[Dated]:
    """
    Return what has to be there, by the day on which it counts. [ticks]

    With fixed use that is each day's need. With learned use it is what the cover of the pool up to that day adds to
    the cover of the day before, so that the days add up to the cover of the whole pool, taken once. Of a stage that is
    asked about nothing is ahead: it counts as its need, beside the pool.
    """
    ahead = sorted((n for n in needs if n.need or n.expected), key=lambda n: n.due)
    days = [(day, list(group)) for day, group in groupby(ahead, key=lambda n: n.due)]
    if belief is None:
        return [Dated(sum(n.need for n in group), day) for day, group in days]
    pool = accumulate(sum(n.expected for n in group if not n.asked) for _, group in days)
    cover = [0, *(usage.covered_use(belief, expected=expected, level=terms.level) for expected in pool)]
    asked = [sum(n.need for n in group if n.asked) for _, group in days]
    covered = [after - before for before, after in pairwise(cover)]
    return [Dated(sum(both), day) for (day, _), *both in zip(days, covered, asked, strict=True)]


def _loose(books: ItemBooks) -> tuple[StageBook, ...]:
    if not books.item.fitted:
        return books.stages
    return tuple(
        StageBook(s.run_id, s.run, s.stage, s.planned, s.done, issued=s.issued) for s in books.stages if s.issued
    )


def _belief(stages: Sequence[StageBook], prior: usage.Prior | None) -> usage.Belief | None:
    plans = [stage.takeoff for stage in stages if stage.takeoff > 0]
    if prior is None or not plans:
        return None
    seen = [(one.planned, one.used) for one in _observed(stages)]
    return usage.learn(seen, mean_stage=Fraction(sum(plans), len(plans)), prior=prior)


def _observed(stages: Sequence[StageBook]) -> list[Evidence]:
    """
    Return plan and use of the finished stages that teach: nothing handed out is nothing told, not nothing used.

    Stages that share a count of a gang box teach together, once all of them are done.
    """
    found = []
    for group in _counted_together(stages):
        runs, names = (dict.fromkeys(getattr(one, name) for one in group) for name in ("run", "stage"))
        planned, used = sum(one.takeoff for one in group), sum(one.issued for one in group)
        if planned > 0 and used > 0 and all(one.done for one in group):
            found.append(Evidence(", ".join(runs), ", ".join(names), planned, used))
    return found


def _counted_together(stages: Sequence[StageBook]) -> list[list[StageBook]]:
    """Return stages in groups: those that share a count of a gang box, or are linked by others that do."""
    of_count: dict[int, list[StageBook]] = {}
    found = [[stage] for stage in stages if not stage.counts]
    for stage in stages:
        together = {id(of_count[count]): of_count[count] for count in stage.counts if count in of_count}
        group = [*(one for mine in together.values() for one in mine), stage]
        of_count |= {count: group for one in group for count in one.counts}
    return [*found, *{id(group): group for group in of_count.values()}.values()]


def _need(stage: StageBook, belief: usage.Belief | None, as_of: date) -> StageNeed:
    need = max(0, stage.takeoff - stage.issued) if stage.asked or not stage.done else 0
    expected = need
    if belief is not None and not stage.done:
        expected = usage.expected_use(belief, planned=stage.takeoff, issued=stage.issued)
    planned = stage.done_on if stage.asked else stage.planned
    return StageNeed(
        run_id=stage.run_id,
        run=stage.run,
        stage=stage.stage,
        planned=planned,
        due=as_of if planned is None else max(as_of, planned),
        done=stage.done,
        takeoff=stage.takeoff,
        drawn=stage.drawn,
        issued=stage.issued,
        need=need,
        expected=expected,
        asked=stage.asked,
        in_box=stage.in_box,
    )


def _in_packs(item: ShortItem, walk: Projection) -> int:
    return order_quantity.order_quantity(short=walk.short, pack=item.pack, min_order=item.min_order)


def _deliveries(books: ItemBooks, terms: Terms) -> tuple[Delivery, ...]:
    """Return what is still to come, all that one shipment or order brings on a day together."""
    found: dict[Delivery, int] = defaultdict(int)
    packages: dict[Delivery, set[str]] = defaultdict(set)
    for packed in books.packing:
        if packed.uncounted:
            late = packed.expected is not None and packed.expected < terms.as_of and not packed.begun
            one = Delivery("shipment", packed.shipment, 0, packed.expected, late=late, begun=packed.begun)
            found[one] += packed.uncounted
            packages[one].update({packed.package} - {""})
    for line in books.orders:
        if line.on_order:
            found[_ordered(line, terms)] += line.on_order
    deliveries = [replace(one, quantity=q, packages=tuple(sorted(packages[one]))) for one, q in found.items()]
    return tuple(sorted(deliveries, key=lambda d: (d.on is None, d.on or date.max, d.kind, d.name, d.provisional)))


def _ordered(line: OrderedLine, terms: Terms) -> Delivery:
    """Return what an order brings, its quantity left out; without a day it comes when its lead time is over."""
    if line.expected is not None:
        return Delivery("order", line.order, 0, line.expected, late=line.expected < terms.as_of)
    provisional = terms.working_days.after(line.sent, line.lead) if line.sent and line.lead else None
    if provisional is None or provisional < terms.as_of:
        return Delivery("order", line.order, 0, None, no_answer=True, sent=line.sent)
    return Delivery("order", line.order, 0, provisional, provisional=True, sent=line.sent)


def _learned(
    stages: Sequence[StageBook], belief: usage.Belief | None, prior: usage.Prior | None, level: Fraction
) -> LearnedUsage | None:
    if belief is None or prior is None:
        return None
    used = [(stage, Evidence(stage.run, stage.stage, stage.takeoff, stage.issued)) for stage in stages]
    evidence = _observed(stages)
    seen = [(one.planned, one.used) for one in evidence]
    far = usage.far_off(seen, mean_stage=belief.mean_stage, prior=prior)
    return LearnedUsage(
        mean_stage=belief.mean_stage,
        rate=belief.rate,
        kappa=belief.kappa,
        nu=belief.nu,
        phi=belief.phi,
        level=level,
        evidence=tuple(replace(one, far_off=is_far) for one, is_far in zip(evidence, far, strict=True)),
        unplanned=tuple(e for stage, e in used if stage.done and stage.takeoff <= 0 and e.used > 0),
        handed_out=tuple(e for stage, e in used if not stage.done and stage.takeoff <= 0 and e.used > 0),
    )

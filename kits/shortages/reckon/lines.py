"""
What a reconciliation says: one line for each item, one for each cable, one for each stage of each run.

Every quantity of an item is whole ticks of its unit, every length whole ticks of a millimetre
(`takeoff/units/exact.py`; `from_ticks` shows them as decimals). The arithmetic behind each field is told in
`docs/reconcile.md`. Nothing here reads a database.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from fractions import Fraction

from kits.shortages.reckon.usage import Prior
from kits.shortages.reckon.working_days import LeadTime
from takeoff.units.exact import SCALE

# In the order in which they are told: the job, the suppliers, the carrier, the store, the crew, the purchaser.
CAUSES = (
    "length_changed",
    "kit_list",
    "not_shipped",
    "short_at_count",
    "rejected",
    "expired",
    "lost",
    "scrapped",
    "other_site",
    "used_beyond_plan",
    "ordered_since",
)
# What adds up to what is short: the causes, the two parts of `learned`, the dates, and pieces made for other runs.
PARTS = (*CAUSES, "use", "reserve", "timing", "other_runs")

CABLE_UNIT = "mm"  # what a missing length of cable is counted in


@dataclass(frozen=True, slots=True)
class ShortItem:
    """
    An item as its lines show it.

    pack, min_order : ticks of its unit. unit_cost : minor units of the site's currency, None when not known.
    lead : from order to delivery, None when nobody gave it. prior : what is believed of its use before stages are
    finished, from which it is learned; None where use is fixed. for_run : each piece is made for a run.
    """

    id: int
    code: str
    description: str = ""
    unit: str = "each"
    group: str = ""
    pack: int = SCALE
    min_order: int = 0
    supplier_id: int | None = None
    supplier: str = ""
    supplier_part: str = ""
    lead: LeadTime | None = None
    unit_cost: int | None = None
    grade: str = ""
    accept: str = ""
    refuse: str = ""
    prior: Prior | None = None
    fitted: str = ""
    for_run: bool = False

    @property
    def in_packs(self) -> bool:
        """Whether it is ordered in packs of more or less than one of its unit."""
        return self.pack != SCALE


@dataclass(frozen=True, slots=True)
class StageNeed:
    """
    What one stage of one run needs of an item.

    planned : the day it is planned for, None when undated; of one that is asked about, the day on which it was done.
    due : the day on which the need counts: `planned`, or the as-of date when that is past or missing.
    takeoff, drawn : with and without as-built lengths. issued : handed out less returned. need : by the takeoff.
    expected : by learned usage; the need where usage is fixed. asked : it is done with nothing handed out, and nobody
    said what it used; until then its need stands. in_box : the next count of its crew's gang box says it.
    """

    run_id: int
    run: str
    stage: str
    planned: date | None
    due: date
    done: bool
    takeoff: int
    drawn: int
    issued: int
    need: int
    expected: int
    asked: bool = False
    in_box: bool = False


@dataclass(frozen=True, slots=True)
class Delivery:
    """
    What is still to come from one shipment or order.

    kind : "shipment" or "order", `name` which. on : the day it is expected, None when nobody said. late : expected
    before the as-of date, and nothing of it counted. begun : the shipment is here, and not all of it is counted.
    packages : of a shipment, those that it lies in. provisional : nobody said `on`: it is the
    day on which the order was sent and the lead time. no_answer : that day has passed, or is not known, and nobody
    said another. sent : the day on which such an order was sent, where it is known.
    """

    kind: str
    name: str
    quantity: int
    on: date | None
    late: bool = False
    packages: tuple[str, ...] = ()
    provisional: bool = False
    no_answer: bool = False
    sent: date | None = None
    begun: bool = False


@dataclass(frozen=True, slots=True)
class TooLate:
    """
    A delivery that something waits for; what is not told here is told of `Delivery`.

    since : the day from which it is missing. days : how many days later it comes, None when nobody said when.
    """

    kind: str
    name: str
    quantity: int
    on: date | None
    since: date
    days: int | None
    no_answer: bool = False
    sent: date | None = None


@dataclass(frozen=True, slots=True)
class BalanceStep:
    """A day on which the projected balance changes, and the balance at its end; below zero is what is missing."""

    day: date
    delivered: int
    needed: int
    expired: int
    balance: int


@dataclass(frozen=True, slots=True)
class Evidence:
    """
    What a run's stage used of an item (ticks). Without a plan it is listed and not learned from.

    run, stage : several by comma, where a gang box was counted for them together. far_off : it used far more or less
    than the other finished stages let expect.
    """

    run: str
    stage: str
    planned: int
    used: int
    far_off: bool = False


@dataclass(frozen=True, slots=True)
class LearnedUsage:
    """
    What finished stages say of an item's use, in units of its mean planned stage.

    mean_stage : the mean planned stage [ticks]. rate : use over plan (lambda). kappa : stages that the rate rests on.
    nu : degrees of freedom. phi : variance of a mean stage. level : service level.
    evidence : finished stages; unplanned : finished ones that used it without a plan. handed_out : without a plan to
    stages that are not finished.
    """

    mean_stage: Fraction
    rate: Fraction
    kappa: Fraction
    nu: int
    phi: Fraction
    level: Fraction
    evidence: tuple[Evidence, ...] = ()
    unplanned: tuple[Evidence, ...] = ()
    handed_out: tuple[Evidence, ...] = ()


@dataclass(frozen=True, slots=True)
class Substitute:
    """
    An accepted substitute, counted in the item's line by its contents.

    usable : ticks of its own unit. equals : the ticks of the item that they are worth, `each` for one.
    """

    code: str
    description: str
    unit: str
    usable: int
    equals: int
    each: Fraction


@dataclass(frozen=True, slots=True)
class Walk:
    """
    What is short of an item, by its projection: of all runs, or of the `runs` that share what is made for them.

    size : of what is made for them, in words. need : by the takeoff. usable, inbound : what serves them. The other
    fields mean what they do in `ShortLine`.
    """

    runs: tuple[str, ...]
    size: str
    need: int
    usable: int
    inbound: int
    short: int
    short_on: date | None
    order: int
    spare: int
    out_on: date | None
    need_by: date | None
    order_by: date | None
    comes_on: date | None
    expedite: int
    too_late: tuple[TooLate, ...]
    steps: tuple[BalanceStep, ...]


@dataclass(frozen=True, slots=True)
class ShortLine:
    """
    An item of a site as of a date; the fields from `takeoff` to `causes` are those of `reconcile --json`.

    short_on : the first day on which expected needs that have a day are not met, with deliveries on their days.
    order : what no delivery will bring, in whole packs. out_on : the first day on which it is missing. need_by : that
    day less the site's buffer. order_by : the last day to order for it, None where there is no such day or the lead
    time is not known. comes_on : when it comes if it is ordered on the as-of date. spare : of the order, what only
    the service level asks for. expedite : what is on the way and comes too late, `too_late` which deliveries.
    walks : of an item that is made for runs, what is short of which; other_runs : what is short because pieces are made
    for other runs. drafts : by name, what orders that are not sent yet ask for. free : of what was ordered, free
    replacements.
    causes : by the names of CAUSES, adding up to `gap`.
    """

    item: ShortItem
    takeoff: int
    drawn: int
    promised: int
    ordered: int
    shipped: int
    counted: int
    rejected: int
    on_hand: int
    usable: int
    issued: int
    used: int
    inbound: int
    need: int
    need_expected: int
    need_covered: int
    short: int
    short_on: date | None
    order_by: date | None
    order: int
    learned: int
    timing: int
    causes: Mapping[str, int]
    needs: tuple[StageNeed, ...] = ()
    deliveries: tuple[Delivery, ...] = ()
    steps: tuple[BalanceStep, ...] = ()
    usage: LearnedUsage | None = None
    substitutes: tuple[Substitute, ...] = ()
    too_late: tuple[TooLate, ...] = ()
    expedite: int = 0
    spare: int = 0
    out_on: date | None = None
    need_by: date | None = None
    comes_on: date | None = None
    drafts: tuple[tuple[str, int], ...] = ()
    free: int = 0
    other_runs: int = 0
    walks: tuple[Walk, ...] = ()

    @property
    def spare_only(self) -> bool:
        """Whether the order is for chance alone: what is expected is covered by what is here and on the way."""
        return self.order > 0 and self.spare == self.order

    @property
    def to_act_on(self) -> bool:
        """Whether something is to be ordered or expedited."""
        return self.order > 0 or self.expedite > 0

    @property
    def gap(self) -> int:
        """Need less what is usable here and what is inbound; negative when there is more than enough."""
        return self.need - self.usable - self.inbound

    @property
    def use(self) -> int:
        """What open stages are expected to use beyond the takeoff, as finished ones did; negative when less."""
        return self.need_expected - self.need

    @property
    def reserve(self) -> int:
        """What is kept beyond the expected use, for the site's service level."""
        return self.need_covered - self.need_expected

    @property
    def uncovered(self) -> int:
        """What is short whatever the dates: gap + learned; negative when there is more than enough."""
        return self.gap + self.learned

    @property
    def level(self) -> Fraction | None:
        """The service level that the reserve is for, where use is learned."""
        return self.usage.level if self.usage else None

    @property
    def late(self) -> bool:
        """Whether a delivery is overdue."""
        return any(delivery.late for delivery in self.deliveries)

    @property
    def runs(self) -> tuple[str, ...]:
        """The runs that are short or still to be served, in the order of their dates."""
        open_needs = sorted((n for n in self.needs if n.expected or n.need), key=lambda n: (n.due, n.run))
        runs = tuple(dict.fromkeys(n.run for n in open_needs))
        lacking = {run for walk in self.walks if walk.short or walk.order for run in walk.runs}
        return tuple(run for run in runs if run in lacking) if lacking else runs

    @property
    def orders(self) -> tuple[tuple[str, str, int, date | None], ...]:
        """What to order: run and size where it is made for a run, how much, and the day to have it."""
        if not self.walks:
            return (("", "", self.order, self.need_by),) if self.order else ()
        wanted = (walk for walk in self.walks if walk.order)
        return tuple((", ".join(walk.runs), walk.size, walk.order, walk.need_by) for walk in wanted)

    @property
    def parts(self) -> dict[str, int]:
        """What adds up to `short`, by the names of PARTS; dates and other runs alone where the rest is covered."""
        made_for = {"other_runs": self.other_runs} if self.item.for_run else {}
        if self.uncovered <= 0:
            return {"timing": self.timing, **made_for}
        return {**self.causes, "use": self.use, "reserve": self.reserve, "timing": self.timing, **made_for}

    @property
    def main_cause(self) -> str:
        """The part that adds most to what is short; empty when nothing does."""
        parts = self.parts
        largest = max(parts, key=lambda name: parts[name])
        return largest if parts[largest] > 0 else ""

    @property
    def sort_key(self) -> tuple[int, bool, date, str]:
        """For lists: by the day to order them, then by the day that is short; spare only behind, then all others."""
        first = self.order_by or self.out_on or self.short_on
        return (2 * (not self.to_act_on) + self.spare_only, first is None, first or date.max, self.item.code)


@dataclass(frozen=True, slots=True)
class UnmetLength:
    """
    A conductor that no reel here can serve [ticks of a millimetre].

    waits_for : the reel on the way that will, by the plan that the crew follows; empty without one.
    """

    run: str
    conductor: str
    length: int
    run_id: int = 0
    waits_for: str = ""


@dataclass(frozen=True, slots=True)
class CableWare:
    """
    How a cable is bought. Lengths in ticks of a millimetre.

    sold : the reel lengths that can be bought. least : the least length that the supplier takes an order for.
    lead : from order to delivery, None when nobody said. cost_of_a_tick : the price of a tick of length, in minor
    units of the site's currency; None when not known.
    """

    id: int
    description: str = ""
    sold: tuple[int, ...] = ()
    least: int = 0
    supplier_id: int | None = None
    supplier: str = ""
    supplier_part: str = ""
    lead: LeadTime | None = None
    cost_of_a_tick: Fraction | None = None

    def price(self, length: int) -> int | None:
        """Return what a reel of a length costs, to the nearest minor unit; None when the price is not known."""
        return None if self.cost_of_a_tick is None else round(self.cost_of_a_tick * length)


@dataclass(frozen=True, slots=True)
class ReelsOnOrder:
    """Reels of one length that were ordered and are neither here nor on the way; `on` : when they are expected."""

    order: str
    length: int
    count: int
    on: date | None = None


@dataclass(frozen=True, slots=True)
class CableLine:
    """
    A cable of a site as of a date. Lengths in ticks of a millimetre.

    need : all conductors. cut : conductors that are cut. open : the rest. on_reels : left on reels that are here.
    unmet : conductors that no reel here can serve. method : the cut plan that says so. buy : (length,
    count) beyond what is on the way. bound, gap : the least that any plan costs at the site's rates, and what this one
    costs more, as lengths. short_on : the first day for which no reel here or on the way gives a length. on_order :
    reels ordered and not on the way yet. order : of `buy`, what they do not bring, up to the least order; order_by :
    the last day for it; need_by : the day to have it here, less the site's buffer. What only a cut plan can say is None
    without one.
    """

    cable: str
    need: int
    cut: int
    open: int
    on_reels: int
    unmet: tuple[UnmetLength, ...]
    method: str
    buy: tuple[tuple[int, int], ...] | None = None
    scrap: int | None = None
    remnants: int | None = None
    bound: int | None = None
    gap: int | None = None
    proven: bool = False
    ware: CableWare | None = None
    runs: tuple[str, ...] = ()
    short_on: date | None = None
    order_by: date | None = None
    need_by: date | None = None
    order: tuple[tuple[int, int], ...] | None = None
    on_order: tuple[ReelsOnOrder, ...] = ()

    @property
    def cost(self) -> int | None:
        """What the order costs, in minor units of the currency; None when the price is not known."""
        if self.ware is None or self.ware.cost_of_a_tick is None:
            return None
        return sum((self.ware.price(length) or 0) * count for length, count in self.order or ())


@dataclass(frozen=True, slots=True)
class Missing:
    """
    What a stage has not got: `quantity` ticks of the item's unit, or of a millimetre of cable.

    waits_for : the reel on the way that a length of cable comes off. in_boxes : what is spare in gang boxes of other
    crews, by their names.
    """

    item: str
    description: str
    unit: str
    quantity: int
    waits_for: str = ""
    in_boxes: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class StageReadiness:
    """
    How ready a stage of a run is.

    state : "done", "ready", "ready but for" or "blocked by". blocked_by : what has to happen first. missing : what is
    not here for it, whatever the state. not_before : when a caulked seal has dried, so that the run may be energized.
    idle : nothing is to be done in it. unmeasured : its cable hangs on a length that nobody has measured.
    """

    run_id: int
    run: str
    stage: str
    planned: date | None
    state: str
    blocked_by: tuple[str, ...] = ()
    missing: tuple[Missing, ...] = ()
    not_before: datetime | None = None
    idle: bool = False
    unmeasured: bool = False

    @property
    def done(self) -> bool:
        """Whether nothing of it is left to do."""
        return self.state == "done"


@dataclass(frozen=True, slots=True)
class Reconciliation:
    """A site's books held against its needs as of a date."""

    site: str
    as_of: date
    lines: tuple[ShortLine, ...] = ()
    cables: tuple[CableLine, ...] = ()
    readiness: tuple[StageReadiness, ...] = ()
    currency: str = "USD"
    level: Fraction = field(default=Fraction(95, 100))

    @property
    def short_lines(self) -> tuple[ShortLine, ...]:
        """The items that will run out or of which something is to be ordered, by the day to order them."""
        return tuple(sorted((one for one in self.lines if one.short or one.order), key=lambda line: line.sort_key))

    @property
    def late_lines(self) -> tuple[ShortLine, ...]:
        """The items of which something on the way is to come sooner, by the day from which it is missing."""
        late = [one for one in self.lines if one.expedite]
        return tuple(sorted(late, key=lambda line: (line.short_on is None, line.short_on or date.max, line.item.code)))

    @property
    def cables_to_buy(self) -> tuple[CableLine, ...]:
        """The cables of which something is to be ordered or is on order, by the day to order it."""
        wanted = (cable for cable in self.cables if cable.order or cable.on_order)
        return tuple(sorted(wanted, key=lambda one: (not one.order, one.order_by or date.max, one.cable)))

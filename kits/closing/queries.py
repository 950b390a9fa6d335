"""What closing a site or one of its runs reads from all three floors, in a number of queries that does not grow."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import ceil

from kits.claims.models import Claim
from kits.claims.queries import claims_of, open_ones
from kits.closing.sums.against_plan import StageUse
from kits.closing.sums.refit import Refit, refit
from kits.closing.sums.surplus import surplus_of
from kits.orders.models import Order, OrderLine
from kits.shortages.item_books import STAGE_ORDER, SiteReading, read_item_books
from kits.shortages.queries import terms_of
from kits.shortages.reckon.item import reckon
from kits.shortages.reckon.lines import ShortItem, ShortLine
from kits.shortages.reckon.projection import LotStock
from kits.shortages.reckon.usage import PRIORS, Prior
from reels.ledger.entries import ReelEntry
from reels.ledger.models import Reel
from reels.ledger.queries import families_of, reel_entries
from takeoff.catalogue.models import Item, Supplier, UsagePrior
from takeoff.runs.models import Run
from takeoff.sites.models import Place, Site
from takeoff.units.exact import SCALE, to_ticks
from takeoff.units.unit_words import in_stock, needed


@dataclass(frozen=True, slots=True)
class LotLeft:
    """What is left of one lot; expires : its last usable day. [ticks]"""

    lot: str
    quantity: int
    expires: date | None
    expired: bool


@dataclass(frozen=True, slots=True)
class SurplusRow:
    """
    What is left of an item. Quantities in ticks.

    worth : of what can still be used, in minor units; None where the price is not known. takes_back : what its supplier
    takes back, empty where nobody knows.
    """

    item: ShortItem
    lots: tuple[LotLeft, ...]
    takes_back: str

    @property
    def quantity(self) -> int:
        """All of it, past its last day or not."""
        return sum(lot.quantity for lot in self.lots)

    @property
    def good(self) -> int:
        """What can still be used."""
        return sum(lot.quantity for lot in self.lots if not lot.expired)

    @property
    def in_lots(self) -> bool:
        """Whether any of it lies in a lot."""
        return any(lot.lot or lot.expires for lot in self.lots)

    @property
    def packs(self) -> int:
        """How many whole packs of it are good; 0 where it comes in no packs."""
        return self.good // self.item.pack if self.item.in_packs else 0

    @property
    def worth(self) -> int | None:
        """What the good ones are worth, in minor units; None where the price is not known."""
        return None if self.item.unit_cost is None else sum(self.worth_of(lot) or 0 for lot in self.lots)

    def worth_of(self, lot: LotLeft) -> int | None:
        """Return what one of its lots is worth, in minor units: nothing past its last day; None without a price."""
        price = self.item.unit_cost
        return None if price is None else round(Fraction((not lot.expired) * lot.quantity * price, SCALE))


@dataclass(frozen=True, slots=True)
class ReelsLeft:
    """Reels by what is to become of them. remnants : pieces worth keeping, longest first; short : shorter ones."""

    to_return: tuple[ReelEntry, ...]
    returned: tuple[ReelEntry, ...]
    whole: tuple[ReelEntry, ...]
    remnants: tuple[ReelEntry, ...]
    short: tuple[ReelEntry, ...]
    coming: tuple[ReelEntry, ...]
    held: tuple[ReelEntry, ...]

    @property
    def groups(self) -> tuple[tuple[str, tuple[ReelEntry, ...]], ...]:
        """All of them by what is to become of them, in words; what there is none of left out."""
        every = (
            ("empty, to send back", self.to_return),
            ("whole, nothing cut off", self.whole),
            ("on hold", self.held),
            ("still on the way", self.coming),
            ("worth keeping", self.remnants),
            ("too short to keep", self.short),
            ("sent back", self.returned),
        )
        return tuple((what, entries) for what, entries in every if entries)


@dataclass(frozen=True, slots=True)
class ClassPrior:
    """What is believed of a class of use, and what the finished stages of this site say instead."""

    usage: str
    believed: Prior
    of_site: bool
    refit: Refit


@dataclass(frozen=True, slots=True)
class StillOpen:
    """What has no end yet. held : items of which something is on hold; asked : finished stages nobody answered for."""

    orders: tuple[tuple[Order, int], ...]
    claims: tuple[Claim, ...]
    held: int
    asked: tuple[tuple[str, str, int], ...]

    @property
    def none(self) -> bool:
        """Whether all has its end."""
        return not (self.orders or self.claims or self.held or self.asked)


@dataclass(frozen=True, slots=True)
class ItemsLeft:
    """The books of a site as closing reads them."""

    surplus: tuple[SurplusRow, ...]
    uses: tuple[StageUse, ...]
    priors: tuple[ClassPrior, ...]
    held: int
    asked: tuple[tuple[str, str, int], ...]


def items_left(site: Site, as_of: date, run: Run | None = None) -> ItemsLeft:
    """Return what is left of the items, what was used of them and what that teaches; of one run, what is its own."""
    gathered, terms = read_item_books(site, as_of), terms_of(site, as_of)
    lines = {key: reckon(gathered.books[key], terms) for key in gathered.items}
    takes_back = dict(Supplier.objects.of(site).values_list("pk", "takes_back"))
    # What stands in for an item is counted in that item's own line.
    stand_ins = {other for others in gathered.stand_ins.values() for other, _ in others}
    own = (line for key, line in lines.items() if key not in stand_ins)
    uses = tuple(use for line in own for use in stage_uses(line) if run is None or use.run_id == run.pk)
    quarantine = (balances.kinds[Place.Kind.QUARANTINE] for balances in gathered.balances.values())
    return ItemsLeft(
        surplus=tuple(_surplus(gathered, lines, stand_ins, takes_back, as_of, run)),
        uses=tuple(sorted(uses, key=lambda use: (use.item.code, STAGE_ORDER[use.stage], use.run))),
        priors=() if run else class_priors(site, lines.values()),
        held=0 if run else sum(held > 0 for held in quarantine),
        asked=_asked(lines.values(), run),
    )


def stage_uses(line: ShortLine) -> Iterable[StageUse]:
    """Yield what each finished stage used of an item, where anybody said; what comes fitted is not handed out."""
    for need in () if line.item.fitted else line.needs:
        if need.done and not need.asked and (need.takeoff or need.issued):
            yield StageUse(line.item, need.run_id, need.run, need.stage, need.takeoff, need.issued)


def class_priors(site: Site, lines: Iterable[ShortLine]) -> tuple[ClassPrior, ...]:
    """Return each class of use with what is believed of it, and with that fitted again to these lines."""
    told = {
        row.usage: Prior(Fraction(row.rate), Fraction(row.rate_worth), Fraction(row.spread), row.spread_worth)
        for row in UsagePrior.objects.of(site).filter(item=None)
    }
    usages = {item.pk: item.usage for item in _items(site)}
    found = []
    learned = [line for line in lines if line.usage]
    for usage, ours in PRIORS.items():
        believed = told.get(usage, ours)
        items = [_in_mean_stages(line) for line in learned if usages[line.item.id] == usage]
        found.append(ClassPrior(usage, believed, usage in told, refit(items, believed)))
    return tuple(found)


def _in_mean_stages(line: ShortLine) -> list[tuple[Fraction, Fraction]]:
    assert line.usage is not None
    mean = line.usage.mean_stage
    return [(one.planned / mean, one.used / mean) for one in line.usage.evidence]


def _items(site: Site) -> Iterable[Item]:
    return Item.objects.of(site).only("pk", "usage")


def _surplus(
    gathered: SiteReading,
    lines: Mapping[int, ShortLine],
    stand_ins: Collection[int],
    takes_back: Mapping[int, str],
    as_of: date,
    run: Run | None,
) -> Iterable[SurplusRow]:
    """
    Yield what of each item no open stage will draw.

    What is pooled is drawn by every run; of one run, what lies in its kits' boxes is drawn by that run alone, and what
    was made for it by all that it fits. What an item lacks, what stands in for it gives.
    """
    passed_on: dict[int, int] = {}
    for key in sorted(lines, key=lambda key: (key in stand_ins, gathered.items[key].code)):
        item, line, lots = gathered.items[key], lines[key], _lots(gathered, key, run)
        own = run is not None and not item.for_run
        needs: dict[int, int] = {}
        for need in line.needs:
            if not own or (run and need.run_id == run.pk):
                needs[need.run_id] = needs.get(need.run_id, 0) + need.expected
        reserve = passed_on.get(key, 0) + (0 if own else max(0, line.reserve))
        found = surplus_of([stock for _, stock in lots], needs, reserve=reserve, as_of=as_of)
        for other, each in gathered.stand_ins.get(key, ()):
            passed_on[other] = needed(ceil(Fraction(found.lacking) / each), gathered.items[other].unit)
        left = tuple(
            LotLeft(lot, whole, stock.expires, stock.expires is not None and stock.expires < as_of)
            for (lot, stock), quantity in zip(lots, found.left, strict=True)
            if (whole := in_stock(quantity, item.unit))
        )
        if left:
            yield SurplusRow(item, left, takes_back.get(item.supplier_id or 0, ""))


def _lots(gathered: SiteReading, key: int, run: Run | None) -> list[tuple[str, LotStock]]:
    """Return the lots of an item that lie in bins and boxes; of one run, those in its boxes and those made for it."""
    found: dict[str, int] = {}
    balances = gathered.balances.get(key)
    for (box_of, lot), quantity in balances.lots.items() if balances else ():
        fits = gathered.fits(key, lot)
        if run is None or box_of == run.pk or (fits is not None and run.pk in fits):
            found[lot] = found.get(lot, 0) + quantity
    return [
        (lot, LotStock(quantity, gathered.expires.get((key, lot)), gathered.fits(key, lot)))
        for lot, quantity in sorted(found.items())
        if quantity > 0
    ]


def _asked(lines: Iterable[ShortLine], run: Run | None) -> tuple[tuple[str, str, int], ...]:
    """Return the finished stages of which nobody said what they used: run, stage, and of how many items."""
    found: dict[tuple[str, str], int] = {}
    for line in lines:
        for need in line.needs:
            if need.asked and (run is None or need.run_id == run.pk):
                found[need.run, need.stage] = found.get((need.run, need.stage), 0) + 1
    return tuple((*key, found[key]) for key in sorted(found, key=lambda key: (key[0], STAGE_ORDER[key[1]])))


def reels_left(site: Site, run: Run | None = None) -> ReelsLeft:
    """Return the reels of a site by what is to become of them; of one run, those that it was cut from, and pieces."""
    entries: Sequence[ReelEntry] = reel_entries(site)
    if run is not None:
        families = families_of(site)
        cut_for = {
            families.get(entry.reel.pk, entry.reel.pk)
            for entry in entries
            if any(cut.conductor and cut.conductor.run_id == run.pk for cut in entry.cuts)
        }
        entries = [entry for entry in entries if families.get(entry.reel.pk, entry.reel.pk) in cut_for]
    keep = to_ticks(site.keep_length)
    here = [entry for entry in entries if entry.is_here]
    cut = sorted((e for e in here if not e.whole), key=lambda e: (e.reel.cable.code, -e.left, e.reel.tag))

    def those(state: str) -> tuple[ReelEntry, ...]:
        # A piece off a reel lies on no drum that could go back.
        return tuple(entry for entry in entries if entry.reel.state == state and entry.reel.parent_id is None)

    return ReelsLeft(
        to_return=those(Reel.State.EMPTY),
        returned=those(Reel.State.RETURNED),
        whole=tuple(entry for entry in here if entry.whole),
        remnants=tuple(entry for entry in cut if entry.left >= keep),
        short=tuple(entry for entry in cut if 0 < entry.left < keep),
        coming=those(Reel.State.ON_THE_WAY),
        held=tuple(entry for entry in entries if entry.reel.state == Reel.State.HELD),
    )


def still_open(site: Site, items: ItemsLeft, run: Run | None = None) -> StillOpen:
    """Return the orders and claims without an end, and what else nobody has answered; of one run, what names it."""
    ended = [Order.State.CLOSED, Order.State.CANCELLED]
    lines = OrderLine.objects.of(site).exclude(order__state__in=ended)
    claims = open_ones(site, claims_of(site))
    if run is not None:
        lines = lines.filter(run=run)
        claims = claims.filter(lines__packing_line__kit__run=run).distinct()
    of_order: dict[Order, int] = {}
    for line in lines.select_related("order__supplier").order_by("order__name", "pk"):
        of_order[line.order] = of_order.get(line.order, 0) + 1
    return StillOpen(tuple(of_order.items()), tuple(claims), items.held, items.asked)

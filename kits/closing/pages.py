"""What the pages and the workbook of closing show, read once for both."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from kits.closing.queries import ItemsLeft, ReelsLeft, StillOpen, items_left, reels_left, still_open
from kits.closing.sums.against_plan import ItemUse, TotalUse, by_item, by_name
from kits.shortages.cable_reading import cable_wares
from kits.shortages.reckon.lines import CableWare
from reels.ledger.entries import ReelEntry
from takeoff.catalogue.models import Cable
from takeoff.runs.models import Run
from takeoff.sites.models import Site

NO_CREW = "no crew named"


@dataclass(frozen=True, slots=True)
class RemnantRow:
    """So many pieces of one cable of one length, with their tags. length : of each [ticks]."""

    cable: Cable
    length: int
    tags: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WholeReels:
    """The reels of one cable that nothing was cut off. worth : of all, in minor units; None without a price."""

    cable: Cable
    entries: tuple[ReelEntry, ...]
    worth: int | None

    @property
    def length(self) -> int:
        """What is on all of them. [ticks]"""
        return sum(entry.left for entry in self.entries)


@dataclass(frozen=True, slots=True)
class ClosingPage:
    """
    A site or one of its runs as it is closed.

    crews : empty where the site does not show use by crew, or to who may not see it.
    """

    site: Site
    run: Run | None
    as_of: date
    items: ItemsLeft
    reels: ReelsLeft
    whole: tuple[WholeReels, ...]
    open: StillOpen
    uses: tuple[ItemUse, ...]
    runs: tuple[TotalUse, ...]
    crews: tuple[TotalUse, ...]

    @property
    def worth(self) -> int:
        """What is left is worth, in minor units, of what has a price and can still be used."""
        return sum(row.worth or 0 for row in self.items.surplus)

    @property
    def unpriced(self) -> int:
        """How many items that are left have no price."""
        return sum(row.worth is None for row in self.items.surplus)

    @property
    def over(self) -> int:
        """Of how many lines more was used than planned."""
        return sum(use.more > 0 for use in self.uses)

    @property
    def remnants(self) -> tuple[RemnantRow, ...]:
        """The pieces worth keeping, those of one cable and length together, longest first."""
        found: dict[tuple[str, int], list[ReelEntry]] = {}
        for entry in self.reels.remnants:
            found.setdefault((entry.reel.cable.code, entry.left), []).append(entry)
        return tuple(
            RemnantRow(entries[0].reel.cable, length, tuple(entry.reel.tag for entry in entries))
            for (_, length), entries in found.items()
        )


def closing_page(site: Site, run: Run | None = None, *, crews: bool = False) -> ClosingPage:
    """Return how a site, or a run of it, is to be closed. crews : whether the reader may see use by crew."""
    as_of, reels = site.today(), reels_left(site, run)
    items = items_left(site, as_of, run)
    by_crew: tuple[TotalUse, ...] = ()
    if crews and site.use_by_crew and run is None:
        of_run = dict(Run.objects.of(site).values_list("pk", "crew"))
        by_crew = by_name(items.uses, lambda use: of_run.get(use.run_id) or NO_CREW)
    return ClosingPage(
        site=site,
        run=run,
        as_of=as_of,
        items=items,
        reels=reels,
        whole=tuple(_by_cable(reels.whole, cable_wares(site))),
        open=still_open(site, items, run),
        uses=by_item(items.uses),
        runs=() if run else by_name(items.uses, lambda use: use.run),
        crews=by_crew,
    )


def _by_cable(entries: Iterable[ReelEntry], wares: Mapping[int, CableWare]) -> Iterator[WholeReels]:
    found: dict[int, list[ReelEntry]] = defaultdict(list)
    for entry in entries:
        found[entry.reel.cable_id].append(entry)
    for key, reels in sorted(found.items(), key=lambda pair: pair[1][0].reel.cable.code):
        prices = [wares[key].price(entry.left) for entry in reels]
        worth = None if None in prices else sum(filter(None, prices))
        yield WholeReels(reels[0].reel.cable, tuple(reels), worth)

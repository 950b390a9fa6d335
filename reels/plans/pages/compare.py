"""Two plans of a cable beside each other: their levels, and the reels that they cut differently."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from django.core.paginator import Page, Paginator

from reels.ledger.entries import ReelEntry
from reels.ledger.queries import ledger
from reels.plans.models import CutPlan
from reels.plans.pages.level_words import LevelWords, difference
from reels.plans.pages.shared import REELS_PER_PAGE, ReelStrip, ends_of, level_words, runs_of, scale_for, strip_of
from reels.plans.pages.strips import Scale, patterns_of
from reels.plans.queries import CutLine, ReelCutList, cut_list
from takeoff.catalogue.models import Cable
from takeoff.sites.models import Site


@dataclass(frozen=True, slots=True)
class Pair:
    """A reel by two plans: each with its strip, None where it leaves the reel alone."""

    entry: ReelEntry
    both: tuple[tuple[CutPlan, ReelStrip | None], ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """
    Two plans beside each other.

    rows : a level by both. moved : cuts that lie on another reel or on none; conductors of one run that need the same
    length count as alike. same : reels that both cut alike.
    """

    one: CutPlan
    other: CutPlan
    rows: tuple[tuple[str, LevelWords | None, LevelWords | None], ...]
    told: str
    moved: int
    same: int
    scale: Scale
    part: Page
    pairs: tuple[Pair, ...]

    @property
    def both(self) -> tuple[CutPlan, CutPlan]:
        """The two, in order."""
        return self.one, self.other


def compare_page(site: Site, cable: Cable, one: CutPlan, other: CutPlan, *, page: str) -> Comparison:
    """Return two plans of a cable beside each other: their levels, and the reels that they cut differently."""
    books = ledger(site)
    of_one, of_other = ({each.entry.reel.pk: each for each in cut_list(plan, books=books)} for plan in (one, other))
    patterns = patterns_of(runs_of([*of_one.values(), *of_other.values()]))
    scale = scale_for(site, cable, books)
    differing: list[tuple[ReelEntry, list[ReelCutList | None]]] = []
    same = gone = come = 0
    for entry in books.reels:
        lists = [of.get(entry.reel.pk) for of in (of_one, of_other)]
        held = [Counter(_kind(line) for line in each.lines) if each else Counter() for each in lists]
        if held[0] == held[1]:
            same += bool(held[0])
        else:
            differing.append((entry, lists))
            gone += (held[0] - held[1]).total()
            come += (held[1] - held[0]).total()
    part = Paginator(differing, REELS_PER_PAGE).get_page(page)
    pairs = [
        Pair(
            entry,
            tuple(
                (plan, strip_of(each, scale, patterns, site) if each else None)
                for plan, each in zip((one, other), lists, strict=True)
            ),
        )
        for entry, lists in part
    ]
    both = ((one, list(of_one.values())), (other, list(of_other.values())))
    by_key = [{level.key: level for level in level_words(plan, site, lists)} for plan, lists in both]
    return Comparison(
        one=one,
        other=other,
        rows=tuple((level.name, level, by_key[1].get(key)) for key, level in by_key[0].items()),
        told=difference(*(ends_of(plan, lists) for plan, lists in both), unit=site.unit),
        moved=max(gone, come),
        same=same,
        scale=scale,
        part=part,
        pairs=tuple(pairs),
    )


def _kind(line: CutLine) -> tuple[int, int]:
    return line.planned.conductor.run_id, line.need

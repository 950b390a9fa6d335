"""What the foreman reads of a run before it is pulled, from all floors, in a number of queries that is fixed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from kits.pulling.lifting import for_a_forklift, for_lifting
from kits.pulling.sets_here import SetToPull, sets_to_pull
from kits.shortages.queries import reconcile
from kits.shortages.reckon.arrivals import stage_lines
from kits.shortages.reckon.lines import Reconciliation
from reels.field.left_checks import weights_of
from reels.ledger.entries import ConductorEntry, ReelEntry
from reels.ledger.models import Cut, Reel
from reels.ledger.queries import conductor_entries, hands_of, reel_entries, set_name
from reels.plans.models import CutPlan, PlannedCut
from takeoff.runs.geometry.cross_section import CrossSection, draw_cross_section
from takeoff.runs.geometry.warnings import least_radius, radius_up
from takeoff.runs.models import Conductor, Run
from takeoff.runs.queries import LengthStanding, length_standings, run_facts, runs_with_parts
from takeoff.sites.models import Site

GROUND = "G"


@dataclass(frozen=True, slots=True)
class Lot:
    """So many lengths of one cable and length. length : up to what a tape finds. [ticks]"""

    count: int
    length: int
    cable: str


@dataclass(frozen=True, slots=True)
class PullRow:
    """
    A conductor in the order in which it is pulled.

    tier, position : None where the drawing package is silent. cut : its cut, None while it is open. overlap : another
    record claims the same cable. reel : the tag of the reel that the plan has for it.
    """

    entry: ConductorEntry
    tier: int | None
    position: int | None
    cut: Cut | None
    overlap: bool
    reel: str

    @property
    def name(self) -> str:
        """A1, B1 …"""
        return self.entry.conductor.name


@dataclass(frozen=True, slots=True)
class Tier:
    """Conductors of one tier in the order in which they are pulled. number : None where nobody said the tier."""

    number: int | None
    rows: tuple[PullRow, ...]


@dataclass(frozen=True, slots=True)
class ReelToBring:
    """
    A reel that the plan cuts for the run, with the words that stand beside it.

    lots : what comes off it for the run. radius : the least bending radius, empty where it is not known.
    """

    entry: ReelEntry
    lots: tuple[Lot, ...]
    lifting: str
    forklift: str
    radius: str


@dataclass(frozen=True, slots=True)
class PullPage:
    """
    All that the page of a run to pull shows.

    one : what is here for it, None once its cables are in. tiers : conductors but ground ones, bottom tier first.
    lots : what is still to cut. unplaced : conductors that no accepted plan has a reel for. cut : names of those that
    are cut.
    """

    run: Run
    one: SetToPull | None
    standing: LengthStanding
    section: CrossSection | None
    given: bool
    tiers: tuple[Tier, ...]
    grounds: tuple[PullRow, ...]
    reels: tuple[ReelToBring, ...]
    lots: tuple[Lot, ...]
    unplaced: tuple[PullRow, ...]
    cut: frozenset[str]
    disputed: tuple[PullRow, ...]


def to_pull(site: Site, found: Reconciliation) -> tuple[SetToPull, ...]:
    """Return the sets to pull, those with everything here first."""
    lines = stage_lines(found.readiness, found.lines)
    unmeasured = {line.row.run_id for line in lines if line.row.unmeasured}
    standings = length_standings(site, unmeasured) if unmeasured else {}
    return sets_to_pull(lines, frozenset(run for run, one in standings.items() if one.to_the_drawing))


def sets_page(site: Site) -> list[tuple[SetToPull, tuple[Lot, ...]]]:
    """Return the sets to pull, each with the lengths that are still to cut."""
    sets = to_pull(site, reconcile(site))
    entries = conductor_entries(
        site, conductors=Conductor.objects.of(site).filter(run__in=[one.run_id for one in sets])
    )
    return [(one, lots_of(site, (e for e in entries if e.conductor.run_id == one.run_id))) for one in sets]


def find_run(site: Site, run_id: int) -> Run | None:
    """Return a run of the site with its parts, or None."""
    return runs_with_parts(site).filter(pk=run_id).first()


def pull_page(site: Site, run: Run) -> PullPage:
    """Return what the foreman reads of one run."""
    sets = to_pull(site, reconcile(site))
    facts = run_facts(run)
    planned, reels = reels_of(site, run)
    rows = [_row(entry, planned, reels) for entry in entries_of(site, run)]
    section = draw_cross_section(facts)
    bundle = [row for row in rows if set_name(row.name) != GROUND]
    given = bool(bundle) and all(row.tier and row.position for row in bundle)
    cables = {one.code: one for one in (facts.cable, facts.neutral_cable, facts.ground_cable) if one}
    radius = {code: least_radius(one) for code, one in cables.items()}
    to_cut = [row for row in rows if row.cut is None and row.entry.need]
    return PullPage(
        run=run,
        one=next((one for one in sets if one.run_id == run.pk), None),
        standing=length_standings(site, {run.pk})[run.pk],
        section=section,
        given=given,
        tiers=_tiers(bundle, given=given),
        grounds=tuple(row for row in rows if set_name(row.name) == GROUND),
        reels=tuple(
            _to_bring(site, entry, [row.entry for row in to_cut if row.reel == entry.reel.tag], radius)
            for entry in reels
            if any(row.reel == entry.reel.tag for row in to_cut)
        ),
        lots=lots_of(site, (row.entry for row in rows)),
        unplaced=tuple(row for row in to_cut if not row.reel),
        cut=frozenset(row.name for row in rows if row.cut),
        disputed=tuple(row for row in rows if row.overlap),
    )


def entries_of(site: Site, run: Run) -> tuple[ConductorEntry, ...]:
    """Return the conductors of a run with what is cut of each, in the order of their names as people count."""
    entries = conductor_entries(site, conductors=Conductor.objects.of(site).filter(run=run))
    return tuple(sorted(entries, key=lambda entry: by_name(entry.conductor.name)))


def by_name(name: str) -> tuple[int, str, int]:
    """Return where a conductor stands among those of its run: phases, neutrals, ground conductors; 2 before 10."""
    letters = set_name(name)
    return "ABCNG".find(letters), letters, int(name[len(letters) :] or 0)


def reels_of(site: Site, run: Run) -> tuple[dict[int, str], tuple[ReelEntry, ...]]:
    """Return the tag of the reel that the accepted plan has for each conductor, and the books of the run's reels."""
    planned = {
        conductor: (reel, tag)
        for conductor, reel, tag in PlannedCut.objects.of(site)
        .filter(plan__state=CutPlan.State.ACCEPTED, conductor__run=run)
        .values_list("conductor_id", "reel_id", "reel__tag")
    }
    cut = Cut.objects.of(site).filter(conductor__run=run).values_list("reel_id", flat=True)
    wanted = {reel for reel, _tag in planned.values()} | set(cut)
    entries = reel_entries(site, reels=Reel.objects.of(site).filter(pk__in=wanted))
    return {conductor: tag for conductor, (_reel, tag) in planned.items()}, entries


def lots_of(site: Site, entries: Iterable[ConductorEntry]) -> tuple[Lot, ...]:
    """Return how many of what length are still to cut, the longest first."""
    hands = hands_of(site)
    counts = Counter(
        (hands.up(one.need), one.conductor.cable.code)
        for one in entries
        if not one.is_cut and one.need and one.conductor.cable
    )
    return tuple(Lot(count, length, cable) for (length, cable), count in sorted(counts.items(), reverse=True))


def _row(entry: ConductorEntry, planned: dict[int, str], reels: Sequence[ReelEntry]) -> PullRow:
    cut = entry.cuts[0] if entry.is_cut else None
    disputed = {name for one in reels for name in one.books.disputed}
    return PullRow(
        entry=entry,
        tier=entry.conductor.tier,
        position=entry.conductor.position,
        cut=cut,
        overlap=cut is not None and cut.event_id in disputed,
        reel="" if cut else planned.get(entry.conductor.pk, ""),
    )


def _tiers(rows: Sequence[PullRow], *, given: bool) -> tuple[Tier, ...]:
    """Return the order to pull: bottom tier first, from the left; by name where nobody said where each lies."""
    if not given:
        return (Tier(None, tuple(rows)),) if rows else ()
    numbers = sorted({row.tier for row in rows if row.tier})
    return tuple(
        Tier(number, tuple(sorted((row for row in rows if row.tier == number), key=lambda row: row.position or 0)))
        for number in numbers
    )


def _to_bring(
    site: Site, entry: ReelEntry, conductors: Sequence[ConductorEntry], radius: dict[str, Fraction | None]
) -> ReelToBring:
    weights = weights_of(entry.reel, entry.left)
    least = radius.get(entry.reel.cable.code)
    return ReelToBring(
        entry=entry,
        lots=lots_of(site, conductors),
        lifting=for_lifting(weights),
        forklift=for_a_forklift(weights),
        radius=radius_up(least, site.unit) if least is not None else "",
    )

"""
Reading stored cut plans: why one is stale, and the crew's cut list.

Each takes a constant number of queries. Lengths are ticks (1/10 000 mm).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from reels.ledger.entries import ConductorEntry, Ledger, ReelEntry
from reels.ledger.models import Cut, Reel
from reels.ledger.queries import conductor_entries, hands_of, ledger, reel_entries
from reels.planner.files.as_json import reels_as_json
from reels.planner.holds import still_holds
from reels.planner.options import Options
from reels.planner.problem import Rates
from reels.plans.cut_list import ListedCut, marks_to_cut_at
from reels.plans.models import CutPlan, PlannedCut
from reels.plans.site_problem import Standing, gather, name_of
from reels.plans.staleness import CutMade, InputChange, Inputs, changes
from takeoff.catalogue.models import Cable
from takeoff.runs.models import Conductor
from takeoff.runs.queries import LengthStanding, length_standings
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks, to_ticks
from takeoff.units.shown import down, up

LEAST_PURCHASE = "buy"  # beside the levels' bounds


def options_of(plan: CutPlan) -> Options:
    """Return what was asked of a stored plan."""
    rates = Rates(Fraction(plan.rate_whole), Fraction(plan.rate_remnant), Fraction(plan.rate_setup))
    return Options(rates, plan.strict, plan.with_coming, float(plan.seconds_allowed))


@dataclass(frozen=True, slots=True)
class Staleness:
    """
    Why a plan is not what would be planned now.

    followable : whether what is left of the plan can still be cut as it stands: every reel holds its share.
    """

    changes: tuple[InputChange, ...]
    followable: bool

    @property
    def is_stale(self) -> bool:
        """Whether anything changed since the plan was made."""
        return bool(self.changes)

    @property
    def off_plan(self) -> tuple[InputChange, ...]:
        """The changes that are not the plan itself being carried out."""
        return tuple(change for change in self.changes if not change.as_planned)


def staleness(plan: CutPlan, *, books: Ledger | None = None, standing: Standing | None = None) -> Staleness:
    """
    Return what has changed since a stored plan was made: cuts, reels, as-built lengths, needs, dates, settings.

    Given books and standing it reads the plan's cuts only, nothing where they were fetched with it.
    """
    site = plan.site
    books = books or ledger(site)
    now = gather(site, plan.cable, options_of(plan), books=books, standing=standing)
    tags = {entry.reel.pk: entry.reel.tag for entry in books.reels}
    entries = {entry.conductor.pk: entry for entry in books.conductors}
    made = {
        name_of(entry.conductor): CutMade(entry.cuts[0].reel.tag, entry.cuts[0].event_id)
        for entry in entries.values()
        if entry.is_cut
    }
    cuts = list(plan.cuts.all())
    found = changes(
        Inputs.from_json(plan.inputs),
        now.inputs,
        made=made,
        planned_on={name_of(entries[cut.conductor_id].conductor): tags[cut.reel_id] for cut in cuts},
        up=lambda ticks: up(ticks, site.unit),
        down=lambda ticks: down(ticks, site.unit),
    )
    to_cut = [(tags[cut.reel_id], entries[cut.conductor_id]) for cut in cuts]
    still_open = [(tag, entry.need) for tag, entry in to_cut if _is_open(entry, plan.cable_id)]
    return Staleness(found, still_holds(still_open, {tag: entry.usable for tag, entry in now.reels.items()}))


@dataclass(frozen=True, slots=True)
class CutLine:
    """
    One cut of the crew's list: `made` once it was cut (maybe off another reel), else with its marks.

    dropped : nobody needs it of this cable any more, so it is not to be cut. waits : its run is drawn and not measured,
    so it is not to be cut yet; then it has no mark.
    """

    planned: PlannedCut
    need: int
    made: Cut | None
    mark: ListedCut[int] | None
    dropped: bool = False
    waits: bool = False

    @property
    def off_plan(self) -> bool:
        """Whether it was cut off another reel than planned."""
        return self.made is not None and self.made.reel_id != self.planned.reel_id


@dataclass(frozen=True, slots=True)
class ReelCutList:
    """
    The cuts of one reel in order, what is left after them, and whether that is a remnant, scrap or nothing.

    Those that wait for a measurement come last: the others can be cut before them.
    """

    entry: ReelEntry
    lines: tuple[CutLine, ...]
    left: int
    left_is: str

    @property
    def to_do(self) -> tuple[CutLine, ...]:
        """The cuts that are still to be made."""
        return tuple(line for line in self.lines if line.made is None and not line.dropped)

    @property
    def to_cut(self) -> tuple[CutLine, ...]:
        """Of them, those that may be cut."""
        return tuple(line for line in self.to_do if not line.waits)


def cut_list(
    plan: CutPlan, *, books: Ledger | None = None, standings: Mapping[int, LengthStanding] | None = None
) -> list[ReelCutList]:
    """
    Return what a plan cuts by reel, with the marks to cut at as the reels stand now.

    standings : by run, whether its cable may be cut, for those who cut; without it nothing waits.
    """
    site = plan.site
    books = books or ledger(site)
    needs = {entry.conductor.pk: entry for entry in books.conductors}
    by_reel: dict[int, list[PlannedCut]] = defaultdict(list)
    for cut in plan.cuts.select_related("reel", "conductor__run").order_by("reel__tag", "seq"):
        by_reel[cut.reel_id].append(cut)
    reels = {entry.reel.pk: entry for entry in books.reels}
    return [
        _reel_list(site, reels[reel], cuts, needs, standings)
        for reel, cuts in sorted(by_reel.items(), key=lambda pair: reels[pair[0]].reel.tag)
    ]


def reel_cut_list(site: Site, reel: Reel) -> ReelCutList | None:
    """
    Return what the accepted plan says of one reel, None where it says nothing, without reading the rest of the site.

    The first of `to_cut` is what comes next; `left` and `left_is` say what the rest will be.
    """
    planned = PlannedCut.objects.of(site).filter(plan__state=CutPlan.State.ACCEPTED, reel=reel)
    cuts = list(planned.select_related("reel", "conductor__run").order_by("seq"))
    if not cuts:
        return None
    (entry,) = reel_entries(site, reels=Reel.objects.of(site).filter(pk=reel.pk))
    wanted = Conductor.objects.of(site).filter(pk__in=[cut.conductor_id for cut in cuts])
    needs = {one.conductor.pk: one for one in conductor_entries(site, conductors=wanted)}
    return _reel_list(site, entry, cuts, needs, length_standings(site, {cut.conductor.run_id for cut in cuts}))


def cut_list_by_run(lists: Sequence[ReelCutList]) -> dict[str, list[CutLine]]:
    """Return the same cuts by run, conductors in order, each line naming its reel."""
    by_run: dict[str, list[CutLine]] = defaultdict(list)
    for line in (line for one in lists for line in one.lines):
        by_run[line.planned.conductor.run.name].append(line)
    return {run: sorted(lines, key=lambda x: x.planned.conductor.name) for run, lines in sorted(by_run.items())}


def cables_to_plan(site: Site) -> list[Cable]:
    """Return the cables of which something is still to be cut, by code."""
    still_open = (entry.conductor.cable for entry in ledger(site).conductors if not entry.is_cut)
    by_code = {cable.code: cable for cable in still_open if cable is not None}
    return [by_code[code] for code in sorted(by_code)]


def enough_to_buy(plan: CutPlan) -> int | None:
    """Return the total below which no purchase is enough, where the plan buys more than that. [ticks]"""
    least = plan.bounds.get(LEAST_PURCHASE)
    return least if least is not None and least < sum(length * count for length, count in plan.buy) else None


def stored_as_json(plan: CutPlan) -> dict[str, Any]:
    """Return a stored plan by the names of `plan_cuts --json`; lengths to buy in millimetres."""
    cuts = plan.cuts.order_by("reel__tag", "seq").values_list("reel__tag", "conductor__run__name")
    return reels_as_json(
        name=plan.cable.code,
        seconds=plan.seconds or 0,
        stopped=plan.stopped,
        levels=plan.levels,
        bounds=plan.bounds,
        cuts=((tag, run, 1) for tag, run in cuts),
        unmet=((run, 1) for run, _, _ in plan.unmet),
        buy=((float(from_ticks(length)), count) for length, count in plan.buy),
    )


def _is_open(entry: ConductorEntry, cable_id: int) -> bool:
    """Whether a conductor is still to be cut of a cable: it may have got another one, or need nothing any more."""
    return entry.is_open_of(cable_id) and entry.need > 0


def _reel_list(
    site: Site,
    entry: ReelEntry,
    cuts: Sequence[PlannedCut],
    needs: dict[int, ConductorEntry],
    standings: Mapping[int, LengthStanding] | None,
) -> ReelCutList:
    wanted = [cut for cut in cuts if _is_open(needs[cut.conductor_id], entry.reel.cable_id)]
    waiting = {cut.pk for cut in wanted if standings and not standings[cut.conductor.run_id].may_be_cut}
    to_cut = [(cut.pk, needs[cut.conductor_id].need) for cut in wanted if cut.pk not in waiting]
    found = marks_to_cut_at(entry.marks, entry.books, to_cut, Fraction(site.mark_allowance), hands_of(site))
    marks = {mark.key: mark for mark in found}
    lines = []
    for cut in sorted(cuts, key=lambda cut: cut.pk in waiting):
        need, waits = needs[cut.conductor_id], cut.pk in waiting
        made = need.cuts[0] if need.is_cut else None
        dropped = made is None and not waits and cut.pk not in marks
        lines.append(CutLine(cut, need.need, made, marks.get(cut.pk), dropped, waits))
    left = max(0, entry.left - sum(needs[cut.conductor_id].need for cut in wanted))
    keep = to_ticks(site.keep_length)
    left_is = "used up" if left == 0 else "remnant" if left >= keep else "scrap"
    return ReelCutList(entry, tuple(lines), left, left_is)

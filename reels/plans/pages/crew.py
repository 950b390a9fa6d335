"""The crew's cut list as its page shows and prints it, by reel or by run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.core.paginator import Page, Paginator

from reels.ledger.entries import ReelEntry
from reels.ledger.models import Reel
from reels.ledger.queries import hands_of, ledger
from reels.plans.models import CutPlan
from reels.plans.pages.shared import (
    REELS_PER_PAGE,
    STANDING,
    Uncut,
    by_standing,
    find_plan,
    left_out,
    plans_of,
)
from reels.plans.queries import CutLine, ReelCutList, Staleness, cut_list, cut_list_by_run, staleness
from reels.plans.site_problem import read_standing
from takeoff.catalogue.models import Cable
from takeoff.runs.models import Run
from takeoff.runs.queries import LengthStanding, length_standings
from takeoff.sites.models import Site
from takeoff.units.exact import SCALE, from_ticks
from takeoff.units.shown import fixed

RUNS_PER_PAGE = 30
DRAWN = "drawn, not measured: do not cut"


@dataclass(frozen=True, slots=True)
class CrewLine:
    """
    A cut for the crew: in which order, of what, how long as a tape finds it [ticks], and between which marks.

    number : which cut of its reel it is, None for one that may not be cut yet. begins, cut_at : empty where only a tape
    can tell. pull : the day its cables are planned for. waits : why it cannot be cut now, empty when it can; then there
    are no marks either.
    """

    number: int | None
    line: CutLine
    tag: str
    length: int
    pull: date | None
    begins: str
    cut_at: str
    waits: str = ""


@dataclass(frozen=True, slots=True)
class CrewSheet:
    """
    What the crew does at one reel, or for one run: then `entry` is None.

    waits : why the reel cannot be cut now. factor : taped length over marks. uncut : lengths of the run that are on no
    list. run, standing, pull : of a run, whether its cable may be cut, and the day for which it is planned.
    """

    title: str
    lines: tuple[CrewLine, ...]
    waits: str = ""
    run: Run | None = None
    standing: LengthStanding | None = None
    pull: date | None = None
    uncut: tuple[Uncut, ...] = ()
    entry: ReelEntry | None = None
    end: int = 0
    end_is: str = ""
    factor: str = ""


@dataclass(frozen=True, slots=True)
class CrewPage:
    """
    The crew's cut list of a plan.

    to_do : cuts that may be made; late : of them, those off reels on the way. waiting : cuts whose run is drawn and not
    measured. uncut : lengths of the cable that it has no reel for, `uncut_count` of them.
    """

    plan: CutPlan
    part: Page
    sheets: tuple[CrewSheet, ...]
    to_do: int
    late: int
    waiting: int
    uncut: tuple[Uncut, ...]
    uncut_count: int
    stale: Staleness


def crew_page(site: Site, cable: Cable, *, plan: CutPlan | None, by_run: bool, page: str) -> CrewPage | None:
    """
    Return the cut list of a plan, or of the one that stands; None without one.

    page : which part of it; "all" puts everything on one, for paper.
    """
    if plan is None:
        chosen = next((each for each in by_standing(plans_of(site, cable)) if each.state in STANDING), None)
        plan = chosen and find_plan(site, cable, chosen.pk)
    if plan is None:
        return None
    books, standing = ledger(site), read_standing(site)
    standings = length_standings(site, {entry.conductor.run_id for entry in books.conductors})
    lists = sorted(cut_list(plan, books=books, standings=standings), key=lambda each: not each.entry.is_here)
    uncut = left_out(cable, lists, books)
    facts = _Facts(site, standing.planned, standings)
    sheets = facts.by_run(lists, uncut) if by_run else [facts.of_reel(each) for each in lists]
    per_page = max(1, len(sheets)) if page == "all" else RUNS_PER_PAGE if by_run else REELS_PER_PAGE
    part = Paginator(sheets, per_page).get_page(page)
    return CrewPage(
        plan=plan,
        part=part,
        sheets=tuple(part),
        to_do=sum(len(each.to_cut) for each in lists),
        late=sum(len(each.to_cut) for each in lists if each.entry.reel.state == Reel.State.ON_THE_WAY),
        waiting=sum(len(each.to_do) - len(each.to_cut) for each in lists),
        uncut=uncut,
        uncut_count=sum(lot.count for lot in uncut),
        stale=staleness(plan, books=books, standing=standing),
    )


class _Facts:
    """What the sheets of a site have in common: how its crews measure, and by run the pull date and the standing."""

    def __init__(self, site: Site, planned: Mapping[int, date], standings: Mapping[int, LengthStanding]) -> None:
        self.planned, self.standings = planned, standings
        self.hands = hands_of(site)

    def of_reel(self, each: ReelCutList) -> CrewSheet:
        """Return what is cut off one reel."""
        entry, factor = each.entry, each.entry.books.factor
        return CrewSheet(
            title=entry.reel.tag,
            lines=self._lines(each),
            waits=_waits(entry),
            entry=entry,
            end=each.left,
            end_is=each.left_is,
            factor="" if factor is None else fixed(from_ticks(round(factor * SCALE)), 4),
        )

    def by_run(self, lists: Sequence[ReelCutList], uncut: Sequence[Uncut]) -> list[CrewSheet]:
        """Return what is cut for each run, by name: what can be cut now first."""
        told = {row.line.planned.pk: row for each in lists for row in self._lines(each)}
        by_run = cut_list_by_run(lists)
        sheets = []
        for name in sorted({*by_run, *(lot.run for lot in uncut)}):
            rows = [told[line.planned.pk] for line in by_run.get(name, ())]
            run = rows[0].line.planned.conductor.run if rows else None
            sheets.append(
                CrewSheet(
                    title=name,
                    lines=tuple(sorted(rows, key=lambda row: bool(row.waits))),
                    run=run,
                    standing=self.standings[run.pk] if run else None,
                    pull=rows[0].pull if rows else None,
                    uncut=tuple(lot for lot in uncut if lot.run == name),
                )
            )
        return sheets

    def _lines(self, each: ReelCutList) -> tuple[CrewLine, ...]:
        return tuple(self._line(number, line, each.entry) for number, line in enumerate(each.lines, 1))

    def _line(self, number: int, line: CutLine, entry: ReelEntry) -> CrewLine:
        waits = DRAWN if line.waits else _waits(entry)
        begins, cut_at = "", ""
        if line.mark and line.mark.from_mark is not None and line.mark.to_mark is not None and not waits:
            begins, cut_at = (self.hands.told(mark, entry.marks) for mark in (line.mark.from_mark, line.mark.to_mark))
        return CrewLine(
            number=None if line.waits else number,
            line=line,
            tag=entry.reel.tag,
            length=self.hands.up(line.need),
            pull=self.planned.get(line.planned.conductor.run_id),
            begins=begins,
            cut_at=cut_at,
            waits=waits,
        )


def _waits(entry: ReelEntry) -> str:
    """Return why a reel cannot be cut now, empty when it can."""
    if entry.is_here:
        return ""
    what = "not here yet" if entry.reel.state == Reel.State.ON_THE_WAY else "do not cut"
    return f"{entry.reel.get_state_display().lower()}: {what}"

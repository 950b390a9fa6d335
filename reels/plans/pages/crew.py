"""The crew's cut list as its page shows and prints it, by reel or by run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.core.paginator import Page, Paginator

from reels.ledger.models import Reel
from reels.ledger.queries import ReelEntry, ledger
from reels.plans.models import CutPlan
from reels.plans.pages.shared import (
    REELS_PER_PAGE,
    STANDING,
    Uncut,
    by_standing,
    end_piece,
    find_plan,
    left_out,
    plans_of,
)
from reels.plans.queries import CutLine, ReelCutList, Staleness, cut_list, cut_list_by_run, staleness
from takeoff.catalogue.models import Cable
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks

RUNS_PER_PAGE = 30
PLACES = {"ft": 1, "m": 2}  # decimal places to which a printed mark is read


@dataclass(frozen=True, slots=True)
class CrewLine:
    """
    A cut for the crew: in which order, of what, and between which marks; empty where only a tape can tell.

    waits : why its reel cannot be cut now, empty when it can; then there are no marks either.
    """

    number: int
    line: CutLine
    tag: str
    begins: str
    cut_at: str
    waits: str = ""


@dataclass(frozen=True, slots=True)
class CrewSheet:
    """
    What the crew does at one reel, or for one run: then `entry` is None.

    waits : why the reel cannot be cut now. factor : taped length over marks. uncut : lengths of the run that are on no
    list.
    """

    title: str
    lines: tuple[CrewLine, ...]
    waits: str = ""
    uncut: tuple[Uncut, ...] = ()
    entry: ReelEntry | None = None
    end: int = 0
    end_is: str = ""
    factor: str = ""


@dataclass(frozen=True, slots=True)
class CrewPage:
    """
    The crew's cut list of a plan.

    to_do : cuts to make; late : of them, those off reels on the way. uncut : lengths of the cable that it has no reel
    for, `uncut_count` of them.
    """

    plan: CutPlan
    part: Page
    sheets: tuple[CrewSheet, ...]
    to_do: int
    late: int
    uncut: tuple[Uncut, ...]
    uncut_count: int
    stale: Staleness


def crew_page(site: Site, cable: Cable, *, plan: CutPlan | None, by_run: bool, page: str) -> CrewPage | None:
    """
    Return the cut list of a plan, or of the one that stands; None without one.

    page : which part of it; "all" puts everything on one, for paper.
    """
    if plan is None:
        standing = next((each for each in by_standing(plans_of(site, cable)) if each.state in STANDING), None)
        plan = standing and find_plan(site, cable, standing.pk)
    if plan is None:
        return None
    books = ledger(site)
    lists = sorted(cut_list(plan, books=books), key=lambda each: not each.entry.is_here)
    uncut = left_out(cable, lists, books)
    sheets = _sheets_by_run(lists, uncut) if by_run else [_sheet(each, site) for each in lists]
    per_page = max(1, len(sheets)) if page == "all" else RUNS_PER_PAGE if by_run else REELS_PER_PAGE
    part = Paginator(sheets, per_page).get_page(page)
    return CrewPage(
        plan=plan,
        part=part,
        sheets=tuple(part),
        to_do=sum(len(each.to_do) for each in lists),
        late=sum(len(each.to_do) for each in lists if each.entry.reel.state == Reel.State.ON_THE_WAY),
        uncut=uncut,
        uncut_count=sum(lot.count for lot in uncut),
        stale=staleness(plan, books=books),
    )


def _sheet(each: ReelCutList, site: Site) -> CrewSheet:
    entry, (end, end_is) = each.entry, end_piece(each, site)
    factor = entry.books.factor
    return CrewSheet(
        title=entry.reel.tag,
        lines=tuple(_crew_line(number, line, entry) for number, line in enumerate(each.lines, 1)),
        waits=_waits(entry),
        entry=entry,
        end=end,
        end_is=end_is,
        factor="" if factor is None else f"{float(factor):.4f}",
    )


def _sheets_by_run(lists: Sequence[ReelCutList], uncut: Sequence[Uncut]) -> list[CrewSheet]:
    entries = {each.entry.reel.pk: each.entry for each in lists}
    numbers = {line.planned.pk: number for each in lists for number, line in enumerate(each.lines, 1)}
    by_run = cut_list_by_run(lists)
    return [
        CrewSheet(
            title=run,
            lines=tuple(
                sorted(
                    (
                        _crew_line(numbers[line.planned.pk], line, entries[line.planned.reel_id])
                        for line in by_run.get(run, ())
                    ),
                    key=lambda line: bool(line.waits),
                )
            ),
            uncut=tuple(lot for lot in uncut if lot.run == run),
        )
        for run in sorted({*by_run, *(lot.run for lot in uncut)})
    ]


def _crew_line(number: int, line: CutLine, entry: ReelEntry) -> CrewLine:
    unit, waits = entry.marks.unit, _waits(entry)

    def told(mark: int | None) -> str:
        return "" if mark is None else f"{from_ticks(mark):.{PLACES[unit]}f}"

    marks = (told(line.mark.from_mark), told(line.mark.to_mark)) if line.mark and not waits else ("", "")
    return CrewLine(number, line, entry.reel.tag, *marks, waits=waits)


def _waits(entry: ReelEntry) -> str:
    """Return why a reel cannot be cut now, empty when it can."""
    if entry.is_here:
        return ""
    what = "not here yet" if entry.reel.state == Reel.State.ON_THE_WAY else "do not cut"
    return f"{entry.reel.get_state_display().lower()}: {what}"

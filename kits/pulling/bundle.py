"""
All that a phone needs to cut a run without signal: its reels, what was cut off them, what is needed, what is planned.

The stand shows the same, so page and phone say one thing. Lengths are ticks (1/10 000 mm), marks ticks of their unit.
No prices. In a number of queries that does not grow with reels, cuts and runs.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.db.models import Q

from kits.pulling.pages import entries_of
from reels.ledger.entries import ConductorEntry, ReelEntry
from reels.ledger.marks.next_cut import NextCut, next_cut
from reels.ledger.models import Cut, Reel
from reels.ledger.queries import cut_marks, cuts_of_set, hands_of, reading_of, reel_entries
from reels.plans.models import CutPlan, PlannedCut
from takeoff.runs.models import Conductor, Run
from takeoff.runs.queries import LengthStanding, length_standings
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks
from takeoff.units.shown import up


@dataclass(frozen=True, slots=True)
class Column:
    """
    A reel on the stand.

    conductors : of the run, that the plan takes off it and that are not cut, in the order to cut. told : how the first
    of them is cut, None where nothing is left to cut. left : after it, as a tape shows it. [ticks] begins, at : its
    marks in words, empty where only a tape can tell. line : what to know before the cut, the worst of it; empty where
    there is nothing.
    """

    entry: ReelEntry
    conductors: tuple[ConductorEntry, ...]
    told: NextCut | None
    left: int
    begins: str
    at: str
    line: str


@dataclass(frozen=True, slots=True)
class Planned:
    """What the accepted plan takes off reels that is not cut yet: the conductors of each, in the order to cut."""

    of_reel: Mapping[int, Sequence[Conductor]]

    def __getitem__(self, reel: int) -> Sequence[Conductor]:
        return self.of_reel.get(reel, ())


@dataclass(frozen=True, slots=True)
class RunAtTheReels:
    """What is read of a run for those who cut it. reels : those that hold its cable, and all off which it was cut."""

    site: Site
    run: Run
    standing: LengthStanding
    conductors: tuple[ConductorEntry, ...]
    reels: tuple[ReelEntry, ...]
    planned: Planned

    @property
    def columns(self) -> tuple[Column, ...]:
        """The reels that the plan cuts for the run, by tag."""
        found = (self._column(entry) for entry in self.reels)
        return tuple(one for one in found if one.conductors or self._served(one.entry))

    @property
    def still_open(self) -> int:
        """How many lengths of the run are still to cut."""
        return sum(1 for one in self.conductors if one.need and not one.is_cut)

    @property
    def others(self) -> tuple[ReelEntry, ...]:
        """The other reels here that hold its cable."""
        shown = {one.entry.reel.pk for one in self.columns}
        return tuple(one for one in self.reels if one.reel.pk not in shown and one.is_here)

    @property
    def as_json(self) -> dict[str, Any]:
        """What a phone keeps."""
        hands, allowance = hands_of(self.site), Fraction(self.site.mark_allowance)
        return {
            "run": self.run.name,
            "settings": {
                "unit": self.site.unit,
                "allowance": [allowance.numerator, allowance.denominator],
                "reading": reading_of(self.site),
                "tape": hands.tape,
                "as": hands.marks_as,
            },
            "needs": [
                {"name": one.conductor.name, "need": one.need, "cable": one.conductor.cable_id, "cut": one.is_cut}
                for one in self.conductors
            ],
            "reels": [self._reel(entry) for entry in self.reels],
            "cuts": [_cut(cut, entry.reel.tag) for entry in self.reels for cut in entry.cuts],
        }

    def _reel(self, entry: ReelEntry) -> dict[str, Any]:
        mine = {one.conductor.pk for one in self.conductors}
        marks, reel, factor = entry.marks, entry.reel, entry.books.factor
        return {
            "tag": reel.tag,
            "cable": reel.cable_id,
            "unit": marks.unit,
            "outer": marks.outer,
            "inner": marks.inner,
            "length": marks.length,
            "deepest": marks.deepest,
            # What the books say, where they know more than the cuts of this one reel: of pieces, of readings.
            "books": {
                "outermost": entry.books.outermost,
                "left": entry.books.left,
                "factor": None if factor is None else [str(factor.numerator), str(factor.denominator)],
            },
            "plan": [one.name for one in self.planned[reel.pk] if one.pk in mine],
            "line": self._line(entry),
        }

    def _served(self, entry: ReelEntry) -> bool:
        return any(cut.conductor and cut.conductor.run_id == self.run.pk for cut in entry.cuts)

    def _column(self, entry: ReelEntry) -> Column:
        wanted = {one.pk for one in self.planned[entry.reel.pk]}
        mine = [one for one in self.conductors if one.conductor.pk in wanted and not one.is_cut and one.need]
        order = [one.pk for one in self.planned[entry.reel.pk]]
        mine.sort(key=lambda one: order.index(one.conductor.pk))
        told = self._next(entry, mine[0]) if mine else None
        hands = hands_of(self.site)
        marks = (told.begins, told.at) if told else (None, None)
        begins, at = ("" if mark is None else hands.told(mark, entry.marks) for mark in marks)
        return Column(
            entry, tuple(mine), told, told.left // hands.tape * hands.tape if told else 0, begins, at, self._line(entry)
        )

    def _next(self, entry: ReelEntry, wanted: ConductorEntry) -> NextCut:
        mine = cuts_of_set(entry, wanted.conductor)
        allowance, hands = Fraction(self.site.mark_allowance), hands_of(self.site)
        return next_cut(entry.marks, entry.books, mine, wanted.need, allowance, hands)

    def _line(self, entry: ReelEntry) -> str:
        """Return the worst that is to be known before this reel is cut for the run, empty where there is nothing."""
        reel, planned = entry.reel, self.planned[entry.reel.pk]
        cables = {one.conductor.cable_id for one in self.conductors}
        if reel.cable_id not in cables:
            return f"Wrong cable: {reel.cable}. {self.run} needs another."
        if not entry.is_here:
            return f"{reel} is said to be {reel.get_state_display().lower()}."
        if not self.standing.may_be_cut:
            return f"{self.run} is drawn, not measured: do not cut."
        needs = [one.need for one in self.conductors if one.conductor.cable_id == reel.cable_id and not one.is_cut]
        if not needs or any(one.run_id == self.run.pk for one in planned):
            return ""
        need = min(needs)
        left = entry.usable - need
        for one in planned:
            left -= to_ticks(one.length)
            if left < 0:
                return f"Then {one} lacks a reel: {up(to_ticks(one.length), self.site.unit)}."
        shorter = [
            other
            for other in self.reels
            if other.is_here and other.reel.cable_id == reel.cable_id and not self.planned[other.reel.pk]
            if need <= other.usable and other.left < entry.left
        ]
        return f"A shorter reel would do: {min(shorter, key=lambda one: one.left).reel}." if shorter else ""


def at_the_reels(site: Site, run: Run) -> RunAtTheReels:
    """Return what is read of a run for those who cut it."""
    conductors = entries_of(site, run)
    cables = {one.conductor.cable_id for one in conductors}
    useful = Q(cable__in=cables, state__in=[Reel.State.ON_SITE, Reel.State.HELD, Reel.State.ON_THE_WAY])
    ours = Q(pk__in=Cut.objects.of(site).filter(conductor__run=run).values("reel"))
    accepted = PlannedCut.objects.of(site).filter(plan__state=CutPlan.State.ACCEPTED)
    given = Q(pk__in=accepted.filter(conductor__run=run).values("reel"))
    entries = reel_entries(site, reels=Reel.objects.of(site).filter(useful | ours | given))
    still_open = {one.conductor.pk for one in conductors if not one.is_cut}
    rows = accepted.filter(reel__in=[one.reel.pk for one in entries]).select_related("conductor__run").order_by("seq")
    cut = {cut.conductor_id for entry in entries for cut in entry.cuts}
    planned: dict[int, list[Conductor]] = defaultdict(list)
    for row in rows:
        if row.conductor_id in still_open or (row.conductor.run_id != run.pk and row.conductor_id not in cut):
            planned[row.reel_id].append(row.conductor)
    standing = length_standings(site, {run.pk})[run.pk]
    return RunAtTheReels(site, run, standing, conductors, entries, Planned(planned))


def _cut(cut: Cut, tag: str) -> dict[str, Any]:
    marks = cut_marks(cut)
    return {
        "id": cut.event_id,
        "reel": tag,
        "run": cut.conductor.run.name if cut.conductor else "",
        "name": cut.conductor.name if cut.conductor else cut.purpose,
        "outer": marks.outer,
        "inner": marks.inner,
        "taped": marks.taped,
        "at": int(cut.at.timestamp() * 1000),
    }

"""Reels, conductors and cables with what is cut and left of each, as of a day. Lengths in ticks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from reels.ledger.marks.line import ReelBooks
from reels.ledger.marks.printed import ReelMarks
from reels.ledger.models import Cut, Reel
from takeoff.catalogue.models import Cable
from takeoff.runs.models import Conductor


@dataclass(frozen=True, slots=True)
class ReelEntry:
    """
    A reel with its books as of a day.

    cuts : what was cut from it, entries made wrongly left out, from the outer end inward.
    decided : what was decided about those of them that something was, by their keys.
    tail : what of its length is not to be relied on: held by the drum, or lost to marks that may be off. [ticks]
    """

    reel: Reel
    marks: ReelMarks
    books: ReelBooks
    cuts: tuple[Cut, ...]
    tail: int
    decided: Mapping[int, frozenset[str]]

    @property
    def is_here(self) -> bool:
        """Whether it lies on site and may be cut."""
        return self.reel.state == Reel.State.ON_SITE

    @property
    def left(self) -> int:
        """Length left. [ticks]"""
        return self.books.left

    @property
    def usable(self) -> int:
        """Length left that can be relied on. [ticks]"""
        return max(0, self.books.left - self.tail)

    @property
    def unlogged(self) -> int:
        """Length gone without a record, by the marks. [ticks]"""
        return self.marks.by_marks(self.books.unlogged_marks)

    @property
    def whole(self) -> bool:
        """Whether nothing was ever cut from it, so that it could still go back to the supplier."""
        return self.books.whole and self.reel.parent_id is None


@dataclass(frozen=True, slots=True)
class ConductorEntry:
    """
    A conductor with what is cut of it as of a day.

    need, least : what it must be and what can still be terminated. cuts : its cuts of its cable that were not
    withdrawn, longest first. length : of the longest, 0 when nothing is cut. accepted : a planner took a shorter one.
    Lengths in ticks.
    """

    conductor: Conductor
    need: int
    least: int
    cuts: tuple[Cut, ...]
    length: int
    accepted: bool

    @property
    def is_cut(self) -> bool:
        """Whether it needs no more cable. A cut that is too short serves nothing unless a planner accepted it."""
        if not self.cuts:
            return False
        return self.length >= self.need or (self.accepted and self.length >= self.least)

    def is_open_of(self, cable: int) -> bool:
        """Whether it is still to be cut of a cable, by its pk. Its need may be 0: not known, or no more."""
        return self.conductor.cable_id == cable and not self.is_cut

    @property
    def short_by(self) -> int:
        """What its cut lacks; 0 when it is long enough or nothing is cut. [ticks]"""
        return max(0, self.need - self.length) if self.cuts else 0


@dataclass(frozen=True, slots=True)
class CableEntry:
    """
    A cable as of a day. Lengths in ticks.

    need : all conductors = cut + open. on_reels : left on reels that are here. usable : of it, to be relied on.
    on_the_way : left on reels that are coming.
    """

    cable: Cable
    need: int
    cut: int
    open: int
    on_reels: int
    usable: int
    on_the_way: int


@dataclass(frozen=True, slots=True)
class Ledger:
    """Reels by tag and conductors by run and name, as of a day."""

    reels: tuple[ReelEntry, ...]
    conductors: tuple[ConductorEntry, ...]

    def open_of(self, cable: int) -> list[ConductorEntry]:
        """Return the conductors that are still to be cut of a cable, by its pk."""
        return [entry for entry in self.conductors if entry.is_open_of(cable)]

"""The crew's list of a run on paper, with blanks, and the same lines as a grid to type them in from."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from kits.pulling.bundle import RunAtTheReels
from reels.ledger.models import Reel
from reels.ledger.queries import hands_of
from reels.plans.cut_list import marks_to_cut_at


@dataclass(frozen=True, slots=True)
class PaperLine:
    """A length to cut: as it is taped [ticks], where it begins, the mark to cut at; empty where only a tape tells."""

    name: str
    length: int
    begins: str
    at: str


@dataclass(frozen=True, slots=True)
class PaperReel:
    """What comes off one reel, in the order to cut. by_tape : its marks have no factor yet."""

    reel: Reel
    lines: tuple[PaperLine, ...]
    by_tape: bool
    line: str


def paper_of(stand: RunAtTheReels) -> tuple[PaperReel, ...]:
    """Return the lines of a run by reel, with the marks to cut at as the reels stand now."""
    hands, allowance = hands_of(stand.site), Fraction(stand.site.mark_allowance)
    found = []
    for column in stand.columns:
        entry = column.entry
        needs = [(one.conductor.name, one.need) for one in column.conductors]
        lines = []
        for cut in marks_to_cut_at(entry.marks, entry.books, needs, allowance, hands):
            marks = (cut.from_mark, cut.to_mark)
            begins, at = ("" if mark is None else hands.told(mark, entry.marks) for mark in marks)
            lines.append(PaperLine(cut.key, hands.up(cut.length), begins, at))
        if lines:
            found.append(PaperReel(entry.reel, tuple(lines), entry.books.factor is None, column.line))
    return tuple(found)

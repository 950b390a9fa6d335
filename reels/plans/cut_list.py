"""The crew's cut list of one reel: which length next, and the printed mark to cut it at. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Generic, TypeVar

from reels.ledger.marks.line import ReelBooks
from reels.ledger.marks.printed import ReelMarks
from reels.ledger.marks.reading import Hands, mark_to_cut_at

Key = TypeVar("Key")


@dataclass(frozen=True, slots=True)
class ListedCut(Generic[Key]):
    """
    One length still to be cut from a reel.

    length : needed. [ticks] from_mark : where it begins; to_mark : the printed mark to cut at. [mark ticks] Both are
    None where marks cannot tell: on a reel without any, or past the core, where only a tape helps.
    left : what is left on the reel after it, marks and tape agreeing. [ticks]
    """

    key: Key
    length: int
    from_mark: int | None
    to_mark: int | None
    left: int


def marks_to_cut_at(
    marks: ReelMarks, books: ReelBooks, needs: Sequence[tuple[Key, int]], allowance: Fraction, hands: Hands
) -> list[ListedCut[Key]]:
    """
    Return the lengths in the order given, each with its marks.

    needs : what to cut and its length [ticks], in the order to cut. allowance : what a mark may be off.
    hands : how the crew measures.
    """
    found: list[ListedCut[Key]] = []
    taken, left = 0, books.left
    known = marks.has_marks
    for key, length in needs:
        left = max(0, left - length)
        target = mark_to_cut_at(marks, books, length, allowance, hands, after=taken) if known else None
        if target is None:
            known = False
            found.append(ListedCut(key, length, None, None, left))
            continue
        found.append(ListedCut(key, length, marks.mark_at(books.outermost + taken), target, left))
        taken = marks.depth(target) - books.outermost
    return found

"""
First fit, longest first: a quick answer to whether lengths can be cut from reels.

Each piece goes to the first reel that holds it, pieces longest first, reels shortest first. A piece that it leaves out
may still fit in a better arrangement, which a cut plan looks for; a piece that it places can surely be cut. Lengths
are in any one unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Generic, TypeVar

Key = TypeVar("Key")


@dataclass(frozen=True, slots=True)
class Piece(Generic[Key]):
    """A length that is needed in one piece; what is pulled earlier goes first, undated last."""

    key: Key
    length: int
    planned: date | None = None


@dataclass(frozen=True, slots=True)
class Fit(Generic[Key]):
    """`placed`: the reel of each piece that fits; `unmet`: the pieces that found no reel, in the order of trying."""

    placed: dict[Key, str]
    unmet: tuple[Piece[Key], ...]


def first_fit(pieces: Sequence[Piece[Key]], reels: Sequence[tuple[str, int]]) -> Fit[Key]:
    """
    Place pieces on reels, `reels` being pairs of a tag and the length that may be cut from it.

    Earlier dates first, within a date the longest first; then as given, so the same input gives the same answer.
    """
    in_order = sorted(reels, key=lambda reel: (reel[1], reel[0]))
    left = [length for _, length in in_order]
    placed: dict[Key, str] = {}
    unmet = []
    for piece in sorted(pieces, key=lambda piece: (piece.planned is None, piece.planned or date.max, -piece.length)):
        place = next((place for place, length in enumerate(left) if piece.length <= length), None)
        if place is None:
            unmet.append(piece)
            continue
        left[place] -= piece.length
        placed[piece.key] = in_order[place][0]
    return Fit(placed, tuple(unmet))

"""
Letters as large as they fit.

A capital of 12 mm is read at 2 m with ease (about 3 mm a metre is the least for a healthy eye; common practice takes
two). So a tag has letters of at least 12.5 mm, broken into lines and narrowed to about half if need be; only one that
is too long even so has smaller ones.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate, combinations, pairwise

CAPITAL = 0.716  # height of a capital, of the size of the letters: that of common sans-serif letters
PITCH = 1.05  # from line to line, of the size
AFAR = 12.5  # height of a capital that is read at 2 m [mm]: a word is broken to keep it, not to be larger
# Heights of a capital [mm], and how far the letters may be narrowed to keep it.
HEIGHTS = ((24.0, 0.9), (18.0, 0.9), (AFAR, 0.48), (9.0, 0.6), (6.0, 0.6), (4.0, 0.5), (3.0, 0.0))
MOST_PLACES = 14  # at which a tag is broken: to try more would take long
WIDE, NARROW = set("MWmw@%—"), set(" .,:;'!|fijlrtI-/()[]")


@dataclass(frozen=True, slots=True)
class Line:
    """A line of text: its left end and its base [mm], its size, and the length that it is drawn to."""

    text: str
    x: float
    y: float
    size: float
    length: float


def width_of(text: str) -> float:
    """Return how wide bold letters are, of their size; rather more than less."""
    return sum(
        0.9 if sign in WIDE else 0.4 if sign in NARROW else 0.74 if sign.isupper() or not sign.isascii() else 0.6
        for sign in text
    )


def fitted(text: str, *, x: float, y: float, width: float, height: float) -> tuple[Line, ...]:
    """Return a tag in a box, as large as it fits, in the middle of the height."""
    for capital, narrowest in HEIGHTS:
        size = capital / CAPITAL
        pitch = size * PITCH
        rows = max(1, int(height / pitch))
        ways_to_cut = (_at_gaps, _anywhere) if capital <= AFAR else (_at_gaps,)
        for cuts in (cut(text, rows) for cut in ways_to_cut):
            ways = [(_room(parts, size, width), -len(parts), parts) for parts in _parted(text, cuts)]
            room, _, parts = max(ways)
            if room >= narrowest:
                base = y + (height - len(parts) * pitch) / 2 + 0.8 * size
                return tuple(_line(part, x, base + row * pitch, size, room) for row, part in enumerate(parts))
    raise AssertionError("the last height takes any text")


def small(text: str, *, x: float, y: float, width: float, size: float) -> Line:
    """Return one line of a size, cut short where it is too long."""
    if width_of(text) * size > width:
        while text and width_of(text + "…") * size > width:
            text = text[:-1]
        text = text.rstrip() + "…"
    return _line(text, x, y, size, 1.0)


def _line(text: str, x: float, y: float, size: float, narrowed: float) -> Line:
    return Line(text, x, round(y, 2), round(size, 2), round(width_of(text) * size * narrowed, 2))


def _room(parts: list[str], size: float, width: float) -> float:
    """Return how far lines must be narrowed to fit a width; 1 where they need not be."""
    return min(1.0, width / (max(0.4, *map(width_of, parts)) * size))


def _at_gaps(text: str, rows: int) -> list[tuple[int, ...]]:
    """Return where a text can be cut into at most `rows` lines at its gaps and strokes, in all ways."""
    words = re.findall(r"[^\s/_-]*[\s/_-]|[^\s/_-]+$", text)
    places = list(accumulate(map(len, words)))[:-1]
    if len(places) > MOST_PLACES:
        return [()]
    return [cut for count in range(rows) for cut in combinations(places, count)]


def _anywhere(text: str, rows: int) -> list[tuple[int, ...]]:
    """Return where a text is cut into 1, 2 … `rows` lines alike."""
    return [tuple(len(text) * part // count for part in range(1, count)) for count in range(1, rows + 1)]


def _parted(text: str, cuts: list[tuple[int, ...]]) -> Iterator[list[str]]:
    for cut in cuts:
        yield [text[start:end].strip() for start, end in pairwise((0, *cut, len(text)))]

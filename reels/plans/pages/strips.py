"""
Reels as strips to one scale, ready to be drawn: what is cut, what is planned, what stays. Pure.

A strip begins at the outer end, at the left, and ends at the core. Positions and widths are percentages of the
drawing's width, so that it fits any screen while its words keep their size. Lengths come as ticks (1/10 000 mm).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from itertools import groupby, pairwise

LEFT, RIGHT = 0.3, 99.7  # per cent; the rest is room for the outline
PATTERNS = 6
CHARACTER = 7.6  # pixels that one character of a label needs, its halo counted
NARROW, WIDE = 270, 760  # pixels that a strip has at least on a phone and on a wide screen

_UNITS = {"ft": 3_048_000, "m": 10_000_000}


@dataclass(frozen=True, slots=True)
class Share:
    """
    Cuts of one run that come off a reel one after the other.

    names : the conductors. lengths : of each. [ticks]
    """

    run: str
    names: tuple[str, ...]
    lengths: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class ReelShares:
    """
    A reel as a plan has it. [ticks]

    received : all that was on it. gone : what is off it, cut or unlogged. unlogged : of it, without a record.
    shares : what is still to be cut, in order. end : what stays beyond them, less the tail. tail : not to be relied on.
    """

    received: int
    gone: int
    unlogged: int
    shares: tuple[Share, ...]
    end: int
    tail: int
    end_is: str


@dataclass(frozen=True, slots=True)
class StripBand:
    """
    A part of a strip. [%]

    kind : cut, piece (off the reel, with a tag of its own), unlogged, disputed, planned, remnant, scrap, tail.
    pattern : of the run, for what is planned. label : what stands on it; `roomy` when that only fits on a wide screen.
    told : what it is, in words. between : where one cut ends and the next begins.
    """

    kind: str
    x: float
    width: float
    label: str = ""
    roomy: bool = False
    told: str = ""
    pattern: int = 0
    between: tuple[float, ...] = ()

    @property
    def middle(self) -> float:
        """Where its label stands. [%]"""
        return round(self.x + self.width / 2, 3)


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark of the scale. [%] `at` in ticks; `half` between two that are named."""

    x: float
    at: int
    half: bool = False


@dataclass(frozen=True, slots=True)
class Scale:
    """What a drawing of reels is drawn by: the longest reel fills it."""

    longest: int
    ticks: tuple[Tick, ...]

    def x(self, at: int) -> float:
        """Return where a length from the outer end lies. [%]"""
        return round(LEFT + at * (RIGHT - LEFT) / self.longest, 3)


def scale_of(lengths: Sequence[int], *, unit: str) -> Scale:
    """Return the scale for reels of these lengths. unit : ft or m, for its marks."""
    longest = max([*lengths, 1])
    base, power = _UNITS[unit], 1
    while True:
        for factor in (1, 2, 5):
            step = base * factor * power
            if longest // step <= 8:
                bare = Scale(longest, ())
                marks = [Tick(bare.x(at), at, at % step > 0) for at in range(0, longest + 1, step // 2)]
                return Scale(longest, tuple(marks))
        power *= 10


def draw(reel: ReelShares, scale: Scale, patterns: Mapping[str, int]) -> tuple[StripBand, ...]:
    """Return a reel's bands from the outer end to the core. patterns : of each run."""
    bands: list[StripBand] = []
    at = 0

    def add(kind: str, length: int, label: str = "", **more: object) -> None:
        nonlocal at
        if length <= 0:
            return
        bands.append(band_between(scale, kind, at, at + length, label, **more))
        at += length

    add("cut", reel.gone - reel.unlogged, "cut", told="cut already")
    add("unlogged", reel.unlogged, "not written down", told="not written down")
    for share in reel.shares:
        place, between = at, []
        for length in share.lengths[:-1]:
            place += length
            between.append(scale.x(place))
        told = f"{share.run} {told_names(share.names)}"
        add(
            "planned",
            sum(share.lengths),
            share.run,
            told=told,
            pattern=patterns.get(share.run, 0),
            between=tuple(between),
        )
    add(reel.end_is, reel.end, reel.end_is, told=reel.end_is)
    add("tail", reel.tail, told="tail that is not planned")
    return tuple(bands)


def band_between(scale: Scale, kind: str, start: int, end: int, label: str = "", **more: object) -> StripBand:
    """Return what lies between two places on the scale; its label where there is room for it."""
    x, until = scale.x(start), min(scale.x(end), RIGHT)
    width = round(max(0.0, until - x), 3)
    need = len(label) * CHARACTER
    fits, fits_wide = width * NARROW / 100 >= need, width * WIDE / 100 >= need
    return StripBand(kind, x, width, label if fits_wide else "", not fits, **more)  # type: ignore[arg-type]  # by name


def patterns_of(reels: Iterable[Sequence[str]]) -> dict[str, int]:
    """
    Return a pattern for each run: runs that share a reel differ as far as the patterns go, neighbours on it first.

    reels : the run of each cut, in the order to cut. With many runs a pattern comes again, on another reel if it can
    be, so the name always stands beside it. The most constrained run is served first: D. Brélaz (1979), New methods to
    color the vertices of a graph, Communications of the ACM 22.
    """
    beside: dict[str, set[str]] = defaultdict(set)
    sharing: dict[str, set[str]] = defaultdict(set)
    for reel in reels:
        for run in set(reel):
            sharing[run].update(reel)
        for one, other in pairwise(reel):
            beside[one].add(other)
            beside[other].add(one)
    patterns: dict[str, int] = {}
    worn = [0] * PATTERNS
    around: dict[str, set[int]] = {run: set() for run in sharing}
    waiting = [(0, -len(others), run) for run, others in sharing.items()]
    heapify(waiting)
    while waiting:
        run = heappop(waiting)[-1]
        if run in patterns:
            continue
        near = Counter(patterns[other] for other in beside[run] if other in patterns)
        on_reels = Counter(patterns[other] for other in sharing[run] if other in patterns)
        chosen = min(range(PATTERNS), key=lambda each: (near[each], on_reels[each], worn[each], each))
        patterns[run] = chosen
        worn[chosen] += 1
        for other in sharing[run]:
            if other not in patterns and chosen not in around[other]:
                around[other].add(chosen)
                heappush(waiting, (-len(around[other]), -len(sharing[other]), other))
    return patterns


def shares_of(cuts: Sequence[tuple[str, str, int]]) -> tuple[Share, ...]:
    """Return (run, conductor, length) in the order to cut as shares of one run each."""
    found = []
    for run, group in groupby(cuts, key=lambda cut: cut[0]):
        rows = list(group)
        found.append(Share(run, tuple(name for _, name, _ in rows), tuple(length for _, _, length in rows)))
    return tuple(found)


def told_names(names: Sequence[str]) -> str:
    """
    Return conductors in words, neighbours of one set together.

    >>> told_names(["A1", "A2", "A3", "B1", "C4", "C5"])
    'A1–A3, B1, C4, C5'
    """
    spans: list[list[str]] = []
    for name in names:
        if spans and _follows(spans[-1][-1], name):
            spans[-1].append(name)
        else:
            spans.append([name])
    return ", ".join(f"{span[0]}–{span[-1]}" if len(span) > 2 else ", ".join(span) for span in spans)


def _follows(before: str, name: str) -> bool:
    letters, number = name_parts(before)
    return name_parts(name) == (letters, number + 1) and number >= 0


def name_parts(name: str) -> tuple[str, int]:
    """Return the letters of a conductor and its number, by which conductors are in order; -1 without a number."""
    letters = name.rstrip("0123456789")
    return letters, int(name[len(letters) :] or -1)

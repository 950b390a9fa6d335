"""
A run as a strip to scale along its centre line, ready to be drawn. Pure: no Django.

Positions and widths are percentages of the drawing's width, so that the picture fits any screen while its words keep
their size. Lengths come as ticks (1/10 000 mm).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from takeoff.runs.geometry.facts import RunFacts, SectionFacts

MARGIN = 1.5  # per cent left free at both sides
ENDS_ABOVE, LANES_FROM, LANE_HEIGHT = 16, 124, 42  # pixels
LABEL_WIDTH = 2.4  # per cent that a section's number needs
MOST_MARKS = 2000  # in a lane; more would be one grey band, and a page that a browser cannot hold

SIGNS = {"tee": "T", "offset": "S", "expansion": "↔"}
TURN_SIGNS = {"left": "↰", "right": "↱", "up": "↑", "down": "↓", "": "∟"}


@dataclass(frozen=True, slots=True)
class Piece:
    """
    A section on the strip.

    x, width : where it lies. [%] label : its number, empty where there is no room. sign : what kind of fitting it is.
    length : along the centre line, as it counts. [ticks]
    """

    x: float
    width: float
    middle: float
    seq: int
    label: str
    sign: str
    kind: str
    lie: str
    turn: str
    length: int
    mark: str

    @property
    def is_straight(self) -> bool:
        """Whether it is no fitting."""
        return self.kind == "straight"

    @property
    def is_vertical(self) -> bool:
        """Whether it climbs or falls."""
        return self.lie == "vertical"


@dataclass(frozen=True, slots=True)
class Tail:
    """Cable beyond the enclosure at an end; a seal is drawn where it leaves. [%]"""

    end: str
    x: float
    far: float
    joint: float
    seal: str
    length: int


@dataclass(frozen=True, slots=True)
class Wall:
    """A crossing. [%]"""

    x: float
    kind: str
    fire_rated: bool
    seal: str
    at: int


@dataclass(frozen=True, slots=True)
class Lane:
    """
    Things that repeat along the run, such as supports: how many, and where each stands. [%]

    spacings : the largest distances that their rules allow, widest first. [ticks] at : empty when they are too many to
    draw. y : below the strip, in pixels.
    """

    name: str
    spacings: tuple[int, ...]
    count: int
    at: tuple[float, ...]
    y: int


@dataclass(frozen=True, slots=True)
class ScaleMark:
    """A mark on the scale below the strip. [%] `at` in ticks."""

    x: float
    at: int


@dataclass(frozen=True, slots=True)
class Repeat:
    """
    What stands at even distances: along each section (of some lies and kinds, any where None) or along the whole run.

    spacing, end_offset : as in the rule that asks for it. [ticks]
    """

    name: str
    spacing: int
    end_offset: int
    along_run: bool = False
    lies: frozenset[str] | None = None
    kinds: frozenset[str] | None = None


@dataclass(frozen=True, slots=True)
class Strip:
    """A whole run as drawn. `length` is its centre line as it counts. [ticks]"""

    length: int
    pieces: tuple[Piece, ...]
    tails: tuple[Tail, ...]
    walls: tuple[Wall, ...]
    lanes: tuple[Lane, ...]
    scale: tuple[ScaleMark, ...]

    @property
    def height(self) -> int:
        """Height of the drawing in pixels."""
        return ENDS_ABOVE + LANES_FROM + LANE_HEIGHT * len(self.lanes)

    @property
    def fittings(self) -> int:
        """How many of the sections are no straights."""
        return sum(not piece.is_straight for piece in self.pieces)


def draw_strip(run: RunFacts, repeats: Sequence[Repeat] = (), *, unit: str = "ft") -> Strip | None:
    """Return the run's strip, or None when it has no section with a length. `unit`: ft or m, for the scale."""
    lengths = [_length(section) for section in run.sections]
    total = sum(lengths)
    if total <= 0:
        return None
    tails = {end.end: end for end in run.ends}
    before = tails["from"].stick_out if "from" in tails else 0
    after = tails["to"].stick_out if "to" in tails else 0
    per_tick = (100 - 2 * MARGIN) / (before + total + after)

    def x(at: int) -> float:
        return round(MARGIN + (before + at) * per_tick, 3)

    pieces = []
    starts: list[int] = []
    at = 0
    for section, length in zip(run.sections, lengths, strict=True):
        starts.append(at)
        width = round(length * per_tick, 3)
        fits = width >= LABEL_WIDTH
        sign = "" if section.kind == "straight" else SIGNS.get(section.kind, TURN_SIGNS[section.turn])
        pieces.append(
            Piece(
                x=x(at),
                width=width,
                middle=round(x(at) + width / 2, 3),
                seq=section.seq,
                label=str(section.seq) if fits else "",
                sign=sign,
                kind=section.kind,
                lie=section.lie,
                turn=section.turn,
                length=length,
                mark=section.mark,
            )
        )
        at += length
    drawn_tails = tuple(
        Tail(
            end=end.end,
            x=x(-before) if end.end == "from" else x(total),
            far=x(0) if end.end == "from" else x(total + after),
            joint=x(0) if end.end == "from" else x(total),
            seal=end.seal,
            length=end.stick_out,
        )
        for end in run.ends
    )
    walls = tuple(
        Wall(x(min(crossing.at, total)), crossing.kind, crossing.fire_rated, crossing.seal, crossing.at)
        for crossing in run.crossings
    )
    lanes = tuple(
        Lane(name, spacings, count, tuple(x(place) for place in places), LANES_FROM + LANE_HEIGHT * number)
        for number, (name, spacings, count, places) in enumerate(_lanes(run, lengths, starts, repeats))
    )
    return Strip(total, tuple(pieces), drawn_tails, walls, lanes, _scale(total, unit, x))


def stations(length: int, spacing: int, end_offset: int) -> list[int]:
    """
    Return where posts stand along a length: at most `spacing` apart, evenly, `end_offset` in from both ends. [ticks]

    As many as `bays` counts and one more; one in the middle of what is no longer than both offsets.
    """
    inner = length - 2 * end_offset
    if inner <= 0:
        return [length // 2]
    between = bays(length, spacing, end_offset)
    return [end_offset + inner * bay // between for bay in range(between + 1)]


def bays(length: int, spacing: int, end_offset: int) -> int:
    """Return ceil((length − 2 end offsets) / spacing), never below 0, as the measure `spaced` counts. [ticks]"""
    return max(0, -((2 * end_offset - length) // spacing))


def _lanes(
    run: RunFacts, lengths: Sequence[int], starts: Sequence[int], repeats: Sequence[Repeat]
) -> list[tuple[str, tuple[int, ...], int, list[int]]]:
    """
    Return each lane's name, spacings, how many stand in it, and their places unless they are too many to draw.

    What stands along the run is counted on its measured length, what stands along sections on the drawn ones, as the
    quantity rules do; the places are then stretched to the length that is shown.
    """
    lanes: dict[str, list[tuple[Repeat, int, int, int]]] = {}
    total = sum(lengths)
    for repeat in repeats:
        spans = lanes.setdefault(repeat.name, [])
        if repeat.along_run:
            spans.append((repeat, run.centre_line, total, 0))
        else:
            spans += [
                (repeat, section.length, length, start)
                for section, length, start in zip(run.sections, lengths, starts, strict=True)
                if (repeat.lies is None or section.lie in repeat.lies)
                and (repeat.kinds is None or section.kind in repeat.kinds)
            ]
    found = []
    for name, spans in lanes.items():
        count = sum(bays(counted, repeat.spacing, repeat.end_offset) + 1 for repeat, counted, _, _ in spans)
        places = [place for span in spans for place in _stretched(*span)] if count <= MOST_MARKS else []
        if count:
            spacings = sorted({repeat.spacing for repeat, *_ in spans}, reverse=True)
            found.append((name, tuple(spacings), count, sorted(places)))
    return found


def _stretched(repeat: Repeat, counted: int, shown: int, start: int) -> list[int]:
    places = stations(counted, repeat.spacing, repeat.end_offset)
    return [start + (place * shown // counted if counted else 0) for place in places]


# Steps of the scale: 1, 2, 5, 10 … of the site's unit; the first that gives at most ten marks.
_UNITS = {"ft": 3_048_000, "m": 10_000_000}


def _scale(total: int, unit: str, x: Callable[[int], float]) -> tuple[ScaleMark, ...]:
    base, power = _UNITS[unit], 1
    while True:
        for factor in (1, 2, 5):
            step = base * factor * power
            if total // step <= 10:
                return tuple(ScaleMark(x(at), at) for at in range(0, total + 1, step))
        power *= 10


def _length(section: SectionFacts) -> int:
    return section.length if section.measured is None else section.measured

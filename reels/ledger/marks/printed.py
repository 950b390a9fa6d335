"""
What is printed on a reel and read off it: its marks, its cuts, the pieces that came off it, what its end showed.

Marks are whole ticks (1/10 000) of the mark's unit, lengths whole ticks (1/10 000 mm). Printed marks are an aid, good
to about 1 % (a cable maker's technical note: ±1 %, no calibrated measure); a tape is believed over them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from fractions import Fraction
from math import floor

# Length ticks in one mark tick: a foot is 304.8 mm exactly (NIST SP 811), a metre 1000 mm.
LENGTH_PER_MARK = {"ft": Fraction(3048, 10), "m": Fraction(1000)}

EARLIEST = datetime(1, 1, 1, tzinfo=UTC)


class MarksError(ValueError):
    """A mark that does not lie on the reel, or a reel whose two marks are the same."""


@dataclass(frozen=True, slots=True)
class Interval:
    """Cable between two depths: mark ticks from the reel's outer mark inward. `start` is below `end`."""

    start: int
    end: int

    @property
    def size(self) -> int:
        """How much it holds. [mark ticks]"""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class ReelMarks:
    """
    A reel as it was received.

    length : as received. [ticks]
    outer, inner : printed marks at the outer end and at the core, climbing or falling; None on a reel that has none.
        [mark ticks]
    unit : unit of the marks, "ft" or "m".
    end : the mark at which its cable ended in truth, once somebody came to it. [mark ticks]
    Raises MarksError when both marks are the same or only one is given.
    """

    length: int
    outer: int | None = None
    inner: int | None = None
    unit: str = "ft"
    end: int | None = None

    def __post_init__(self) -> None:
        if (self.outer is None) != (self.inner is None):
            raise MarksError("a reel has an outer and an inner mark, or neither")
        if self.outer is not None and self.outer == self.inner:
            raise MarksError("the outer and the inner mark of a reel are the same")

    @property
    def has_marks(self) -> bool:
        """Whether marks are printed on it."""
        return self.outer is not None

    @property
    def span(self) -> int:
        """All of its marks, by its tag. [mark ticks]; 0 without marks"""
        return 0 if self.outer is None or self.inner is None else abs(self.inner - self.outer)

    @property
    def held(self) -> int:
        """The marks that it held in truth, as far as is known. [mark ticks]; 0 without marks"""
        return self.span if self.end is None else self.inward(self.end)

    @property
    def deepest(self) -> int:
        """How far inside the outer end a mark can lie. [mark ticks]"""
        return max(self.span, self.held)

    def depth(self, mark: int) -> int:
        """
        Return how far inside the outer end `mark` is. [mark ticks]

        Raises MarksError when it does not lie on the reel or the reel has no marks.
        """
        if self.outer is None or self.inner is None:
            raise MarksError("the reel has no printed marks")
        depth = self.inward(mark)
        if not 0 <= depth <= self.deepest:
            raise MarksError("the mark does not lie on the reel")
        return depth

    def inward(self, mark: int) -> int:
        """Return how far inside the outer end any mark is, on the reel or not. [mark ticks] The reel has marks."""
        assert self.outer is not None
        assert self.inner is not None
        return mark - self.outer if self.inner > self.outer else self.outer - mark

    def mark_at(self, depth: int) -> int:
        """Return the printed mark at a depth. [mark ticks] Raises MarksError when the reel has no marks."""
        if self.outer is None or self.inner is None:
            raise MarksError("the reel has no printed marks")
        return self.outer + depth if self.inner > self.outer else self.outer - depth

    def interval(self, outer: int, inner: int) -> Interval:
        """
        Return what lies between two marks, whichever of them is named first.

        Raises MarksError when a mark does not lie on the reel or both are the same.
        """
        start, end = sorted((self.depth(outer), self.depth(inner)))
        if start == end:
            raise MarksError("a cut needs two different marks")
        return Interval(start, end)

    def by_marks(self, size: int) -> int:
        """Return a number of mark ticks as a length, the marks taken at their word, rounded down. [ticks]"""
        return floor(size * LENGTH_PER_MARK[self.unit])


@dataclass(frozen=True, slots=True)
class CutMarks:
    """
    A length that was taken off a reel.

    id : names it.
    outer, inner : the printed marks it lay between; None where nobody read them. [mark ticks]
    taped : its length by a tape; None where nobody taped it. One of the two is there. [ticks]
    at : when it was cut; only tells where a cut without marks lay.
    """

    id: str
    outer: int | None = None
    inner: int | None = None
    taped: int | None = None
    at: datetime = EARLIEST


@dataclass(frozen=True, slots=True)
class Piece:
    """
    A piece with a tag of its own that came off a reel: it claims what lies between its marks, else its length.

    outer, inner : its printed marks; None where it has none. [mark ticks] length : [ticks]
    """

    tag: str
    length: int
    outer: int | None = None
    inner: int | None = None


@dataclass(frozen=True, slots=True)
class Showing:
    """The mark that somebody read at the outer end of a reel. mark : [mark ticks]"""

    id: str
    mark: int
    at: datetime

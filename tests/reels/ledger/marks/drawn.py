"""Reels with printed marks and cuts off them, written in feet, and any that may be met."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction

from hypothesis import strategies as st

from reels.ledger.marks.printed import CutMarks, ReelMarks
from takeoff.units.exact import to_ticks

FT = 3_048_000
DAY = datetime(2026, 3, 2, 8, tzinfo=UTC)
ONE_PERCENT = Fraction(1, 100)


def reel(outer=1250, inner=3740, unit="ft", length=None):
    span = abs(inner - outer)
    return ReelMarks(
        length=length or span * (FT if unit == "ft" else 10_000_000),
        outer=to_ticks(outer),
        inner=to_ticks(inner),
        unit=unit,
    )


def cut(name, outer=None, inner=None, taped=None, at=DAY):
    marks = (None, None) if outer is None else (to_ticks(outer), to_ticks(inner))
    return CutMarks(name, *marks, taped=None if taped is None else int(Fraction(taped) * FT), at=at)


@st.composite
def reels_with_cuts(draw):
    span = draw(st.integers(1, 3000))
    base = draw(st.integers(0, 5000))
    cuts = []
    for number in range(draw(st.integers(0, 8))):
        at = DAY + timedelta(hours=draw(st.integers(0, 6)))
        if draw(st.booleans()):
            start = draw(st.integers(0, span - 1))
            end = draw(st.integers(start + 1, span))
            off = draw(st.sampled_from([None, Fraction(99, 100), Fraction(1), Fraction(101, 100)]))
            taped = None if off is None else int((end - start) * FT * off)
            cuts.append((f"c{number}", start, end, taped, at))
        else:
            cuts.append((f"c{number}", None, None, draw(st.integers(1, 500 * FT)), at))
    return span, base, cuts


def laid(span, base, cuts, *, climbing):
    def mark(depth):
        return None if depth is None else to_ticks(base + depth if climbing else base + span - depth)

    return (
        ReelMarks(length=span * FT, outer=mark(0), inner=mark(span)),
        [CutMarks(name, mark(start), mark(end), taped, at) for name, start, end, taped, at in cuts],
    )

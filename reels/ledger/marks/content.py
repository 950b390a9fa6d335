"""A cut as it is reported, before it is recorded: where its marks lie, and what is wrong with it. Pure."""

from __future__ import annotations

from reels.ledger.marks.printed import MarksError, ReelMarks
from takeoff.records.terms.errors import RecordError
from takeoff.units.exact import from_ticks

# What no history could make right.
MALFORMED = {"no_length", "no_conductor", "no_reason"}


class CutError(RecordError):
    """
    A record that the ledger of reels refuses; nothing of it was kept.

    code : off_reel, no_length, no_conductor, wrong_cable, decided, no_reason, too_short, tag_taken, not_left.
    """

    def __init__(self, code: str, message: str, **more: str) -> None:
        super().__init__(message, **more)
        self.code = code
        self.malformed = code in MALFORMED


def placed_marks(
    reel: str, marked: ReelMarks, *, outer: int | None, inner: int | None, taped: int | None
) -> tuple[int, int] | None:
    """
    Return a cut's marks with the outer one first, None when it has none. [mark ticks]

    outer, inner : as they were read, in either order [mark ticks]. taped : [ticks]. None where not said.

    Raises CutError when they do not lie on the reel, or when neither marks nor a taped length were said.
    """
    if outer is None and inner is None:
        if taped is None:
            raise CutError(
                "no_length",
                f"A cut off reel {reel} needs its two marks or its taped length.",
                column="length",
                expected="outer_mark and inner_mark, or length",
            )
        if not marked.has_marks and taped > marked.length:
            raise CutError(
                "off_reel",
                f"A cut of {from_ticks(taped)} mm is longer than all of reel {reel}.",
                column="length",
                found=f"{from_ticks(taped)} mm",
                expected=f"at most {from_ticks(marked.length)} mm",
            )
        return None
    if outer is None or inner is None:
        column = "outer_mark" if outer is None else "inner_mark"
        raise CutError("no_length", "A cut has an outer and an inner mark, or neither.", column=column)
    found = f"{from_ticks(outer)} to {from_ticks(inner)}"
    try:
        interval = marked.interval(outer, inner)
    except MarksError as error:
        has = (
            f"marks from {from_ticks(marked.mark_at(0))} to {from_ticks(marked.mark_at(marked.span))} {marked.unit}"
            if marked.has_marks
            else "no marks, so only a taped length"
        )
        raise CutError(
            "off_reel",
            f"Marks {found} cannot be on reel {reel}: {error}.",
            column="outer_mark",
            found=found,
            expected=f"reel {reel} has {has}",
        ) from error
    return marked.mark_at(interval.start), marked.mark_at(interval.end)

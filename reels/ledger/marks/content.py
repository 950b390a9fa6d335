"""A cut as it is reported, before it is recorded: what its content is, and what is wrong with it. Pure."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import UTC, datetime

from reels.ledger.marks.line import MarksError, ReelMarks
from takeoff.units.exact import from_ticks


class CutError(ValueError):
    """
    A record that the ledger of reels refuses; nothing of it was kept.

    code : for programs: content_differs, off_reel, no_length, no_conductor, wrong_cable, wrong_site, confirm, decided,
    no_reason, too_short, tag_taken, not_left. column : the column of a sheet, or field of a form, at fault. found,
    expected : for a table of problems. The text is a whole sentence for people.
    """

    def __init__(self, code: str, message: str, *, column: str = "", found: str = "", expected: str = "") -> None:
        super().__init__(message)
        self.code = code
        self.column = column
        self.found = found
        self.expected = expected or message


class ConfirmFirstError(CutError):
    """A cut that a person must look at twice; recorded as it is when confirmed. `warnings`: one sentence each."""

    def __init__(self, warnings: tuple[str, ...]) -> None:
        super().__init__("confirm", " ".join(warnings))
        self.warnings = warnings


@dataclass(frozen=True, slots=True)
class CutContent:
    """
    What a person said of a cut.

    reel, conductor : tag; run and name, None for a cut that is for no conductor. outer, inner : marks [mark ticks],
    taped : [ticks]; None where not said.
    """

    reel: str
    at: datetime
    purpose: str
    conductor: tuple[str, str] | None
    outer: int | None
    inner: int | None
    taped: int | None
    by: str

    @property
    def digest(self) -> str:
        """A hash of all of it, by which the same record sent twice is known."""
        marks = None if self.outer is None or self.inner is None else sorted((self.outer, self.inner))
        said = [
            self.reel,
            self.at.astimezone(UTC).isoformat(),
            self.purpose,
            self.conductor,
            marks,
            self.taped,
            self.by,
        ]
        return hashlib.sha256(json.dumps(said).encode()).hexdigest()

    def __str__(self) -> str:
        outer = "no marks" if self.outer is None else f"marks {from_ticks(self.outer)} to {from_ticks(self.inner or 0)}"
        taped = "not taped" if self.taped is None else f"taped {from_ticks(self.taped)} mm"
        purpose = " ".join(self.conductor) if self.conductor else self.purpose
        return f"reel {self.reel}, {outer}, {taped}, for {purpose}, {self.at:%Y-%m-%d}"


def placed_marks(reel: str, marked: ReelMarks, content: CutContent) -> tuple[int, int] | None:
    """
    Return a cut's marks with the outer one first, None when it has none. [mark ticks]

    Raises CutError when they do not lie on the reel, or when neither marks nor a taped length were said.
    """
    if content.outer is None and content.inner is None:
        if content.taped is None:
            raise CutError(
                "no_length",
                f"A cut off reel {reel} needs its two marks or its taped length.",
                column="length",
                expected="outer_mark and inner_mark, or length",
            )
        if not marked.has_marks and content.taped > marked.length:
            raise CutError(
                "off_reel",
                f"A cut of {from_ticks(content.taped)} mm is longer than all of reel {reel}.",
                column="length",
                found=f"{from_ticks(content.taped)} mm",
                expected=f"at most {from_ticks(marked.length)} mm",
            )
        return None
    if content.outer is None or content.inner is None:
        column = "outer_mark" if content.outer is None else "inner_mark"
        raise CutError("no_length", "A cut has an outer and an inner mark, or neither.", column=column)
    found = f"{from_ticks(content.outer)} to {from_ticks(content.inner)}"
    try:
        interval = marked.interval(content.outer, content.inner)
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

"""What becomes of a record, as it is told to whoever sent it."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from takeoff.records.models import AsideEnd, Record
from takeoff.records.terms.errors import RecordError

KEPT, KNOWN, LOOK, ASIDE, REFUSED = "kept", "known", "look", "aside", "refused"


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of one record; `column` is the cell at fault."""

    id: str
    answer: str
    said: tuple[str, ...] = ()
    column: str = ""


def question_of(said: Sequence[str]) -> str:
    """Return the hash of what a page asks: confirming it confirms these sentences and no others."""
    return hashlib.sha256("\n".join(said).encode()).hexdigest()[:16]


def told_again(record: Record) -> tuple[str, ...]:
    """Return what was said of a record when it first came, and what became of it since where it was set aside."""
    aside = getattr(record, "set_aside", None)
    if aside is None:
        return tuple(record.said)
    end = getattr(aside, "end", None)
    if end is None:
        return ("It waits to be placed.", *record.said)
    if end.how == AsideEnd.How.PLACED:
        return (f"It was placed by {end.placed_by}.",)
    return (f"It was dropped: {end.reason}",) if end.how == AsideEnd.How.DROPPED else ("It is in the books.", *end.said)


def refused(error: RecordError) -> Answer:
    """Return the answer to a record that is refused."""
    return Answer(error.found, REFUSED, (str(error),), error.column)


def known_again(answer: Answer) -> Answer:
    """Return the answer to a record that was sent with itself."""
    return answer if answer.answer == REFUSED else Answer(answer.id, KNOWN, answer.said, answer.column)

"""What is read off a reel in use: a mark showing, where its cable ended, what it weighs, how far it is wound."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from reels.ledger.marks.content import CutError
from reels.ledger.marks.line import Contradiction, ReelBooks
from reels.ledger.marks.printed import MarksError, ReelMarks
from reels.ledger.models import Reading, Reel
from reels.ledger.queries import (
    books_of_reels,
    known_marks,
    real_cuts,
    whole_families,
)
from takeoff.records.record_kinds import Filing
from takeoff.records.reported import reported, taking
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks, to_ticks
from takeoff.units.shown import exactly

What = Reading.What
# The column that says the figure of each.
FIGURE = {
    What.SHOWING: "mark",
    What.END: "mark",
    What.WEIGHT: "weight",
    What.WOUND: "diameter",
    What.TURNS: "turns",
}


def read_off(site: Site, filings: Sequence[Filing]) -> None:
    """Keep readings, with what a person should look at; one that cannot be has its error."""
    marks = known_marks(site, [filing["reel"] for filing in filings])
    fresh: dict[str, Reading] = {}
    for filing in filings:
        try:
            fresh[filing.id] = _reading(filing, marks[filing["reel"].pk])
        except CutError as error:
            filing.error = error
    Reading.objects.bulk_create(fresh.values())
    kept = [filing for filing in filings if filing.id in fresh]
    family = list(whole_families(site, {filing["reel"].pk for filing in kept}))
    cuts = list(real_cuts(site).filter(reel__in=family))
    books, marks = books_of_reels(site, family, cuts), known_marks(site, family)
    for filing in kept:
        filing.look += _doubts(site, fresh[filing.id], family, books, marks)


def take_reading_back(site: Site, filing: Filing) -> None:
    """Take a reading back. Raises CutError."""
    assert filing.reverses is not None
    row = Reading.objects.of(site).filter(event_id=filing.reverses.event_id, takes_back=None).first()
    if row is None:
        raise CutError("no_event", f"{filing.reverses} is not in the books yet.", lacks=f"record {filing.reverses}")
    if hasattr(row, "taken_back"):
        raise CutError("decided", f"{row} was taken back before.", column="reverses")
    said = {"reel": row.reel, "what": row.what, "value": row.value, "unit": row.unit}
    Reading.objects.create(**said, **taking(row, filing))


def _reading(filing: Filing, marked: ReelMarks) -> Reading:
    """Return a reading that is possible, not yet saved. Raises CutError."""
    reel, what = filing["reel"], What(filing["what"])
    column = FIGURE[what]
    for other in set(FIGURE.values()):
        if (filing[other] is None) == (other == column):
            text = f"A reading of “{what}” says its {column} and nothing else."
            raise CutError("no_figure", text, column=other, expected=f"a {column}")
    value, unit = filing[column], ""
    if what == What.WEIGHT:
        value, unit = value.value, value.unit
    if column == "mark":
        _check_mark(reel, marked, what, to_ticks(value))
    return Reading(reel=reel, what=what, value=value, unit=unit, note=filing["note"], **reported(filing))


def _check_mark(reel: Reel, marked: ReelMarks, what: Reading.What, mark: int) -> None:
    """Raise CutError for a mark that cannot be on the reel; its cable may end beyond what the tag says."""
    try:
        if what == What.SHOWING:
            marked.depth(mark)
        elif not marked.has_marks or marked.inward(mark) <= 0:
            raise MarksError("the mark does not lie on the reel")
    except MarksError as error:
        said = from_ticks(mark)
        lacks = f"marks of reel {reel}"
        raise CutError(
            "off_reel", f"Mark {said} cannot be on reel {reel}: {error}.", column="mark", found=str(said), lacks=lacks
        ) from error


def _doubts(
    site: Site,
    reading: Reading,
    family: Iterable[Reel],
    books: dict[int, ReelBooks],
    marks: dict[int, ReelMarks],
) -> list[str]:
    """Return what a person should look at: what the reel lacks against its tag, and cuts that the mark contradicts."""
    found = []
    marked = marks[reading.reel_id]
    if reading.what == What.END:
        less = marked.span - marked.inward(to_ticks(reading.value))
        if less:
            told = exactly(marked.by_marks(abs(less)), site.unit)
            more_or_less = "less" if less > 0 else "more"
            found.append(f"Reel {reading.reel} held {told} {more_or_less} than its tag says: tell the supplier.")
    if reading.what not in {What.SHOWING, What.END}:
        return found
    wanted = reading.event_id if reading.what == What.SHOWING else ""
    of: dict[str, list[Contradiction]] = defaultdict(list)
    for reel in family:
        for each in books[reel.pk].contradicted:
            of[each.reading].append(each)
    for each in of[wanted]:
        by = exactly(marked.by_marks(each.by), site.unit)
        found.append(f"{each.claim} lies {by} beyond mark {reading.value}: one of the two is misread.")
    return found

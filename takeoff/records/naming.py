"""What records name: things put in place of names, and for reversals what they take back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from takeoff.people.models import User
from takeoff.records.models import Record
from takeoff.records.record_kinds import Filing
from takeoff.records.reversals import ReversalsKind
from takeoff.records.terms.errors import MalformedError, RecordError
from takeoff.sheets.context import LoadContext
from takeoff.sheets.resolving import resolve
from takeoff.sheets.row_reading import reading_of
from takeoff.sites.models import Site


def put_things(site: Site, sender: User | None, received: datetime, filings: Sequence[Filing]) -> None:
    """Put things in place of names; what nobody knows is what the record lacks."""
    context = LoadContext(site, sender, received, reading_of(site), narrow=True)
    by_kind: dict[str, list[Filing]] = {}
    for filing in filings:
        by_kind.setdefault(filing.kind.name, []).append(filing)
    for mine in by_kind.values():
        by_row = {id(filing.row): filing for filing in mine}
        _good, bad = resolve(context, mine[0].kind, [filing.row for filing in mine])
        expected = {(problem.row, problem.column): problem for problem in context.problems}
        for row in bad:
            filing = by_row[id(row)]
            column, problem = next((c, p) for (number, c), p in expected.items() if number == row.number)
            to = next(each.kind.to for each in filing.kind.columns if each.name == column)  # type: ignore[attr-defined]  # a Reference
            name = filing.row.said[column]
            filing.error = RecordError(
                f"There is no {to} {name} here.",
                column=column,
                found=problem.found,
                expected=problem.expected,
                lacks=f"{to} {name}",
            )
            filing.unready = True
        context.problems.clear()


def find_reversed(filings: Sequence[Filing], there: Mapping[str, Record]) -> None:
    """
    Give each reversal the record that it takes back, and a moment that is not before it.

    there : the records known, by their ids.
    """
    reversals = [each for each in filings if isinstance(each.kind, ReversalsKind)]
    for filing in reversals:
        wanted = filing["reverses"]
        found = there.get(wanted)
        if found is None:
            filing.error = RecordError(
                f"Nothing with the id {wanted} is known here.",
                column="reverses",
                found=wanted,
                expected="the id of something that was reported",
                lacks=f"record {wanted}",
            )
            filing.unready = True
        elif found.kind == ReversalsKind.name:
            filing.error = MalformedError(
                f"{wanted} takes something back itself: report anew what really happened.", column="reverses"
            )
            filing.unready = True
        else:
            filing.reverses = found
            filing.record.at = filing.row.values["at"] = max(filing.at, found.at)

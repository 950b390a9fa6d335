"""That a doubt about reels was seen: the kind of record, and the ledger that keeps it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from reels.field.models import DoubtSeen
from takeoff.people.permissions import PLAN
from takeoff.records.record_kinds import AT, BY, ID, Filing, Keeper, RecordKind, register_kind
from takeoff.records.reported import reported, taking
from takeoff.records.terms.errors import RecordError
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Text
from takeoff.sites.models import Site


class DoubtsSeenKeeper(Keeper):
    """Keeps what was seen of doubts. Nothing is locked: what is added changes no other row."""

    order = 9

    def lock(self, site: Site, filings: Sequence[Filing]) -> None:
        """Take no lock."""

    def keep(self, site: Site, filings: Sequence[Filing], *, again: bool = False) -> None:
        """Keep each record, or put on it why not."""
        backs = {filing.reverses.event_id for filing in filings if filing.reverses}
        seen = {row.event_id: row for row in DoubtSeen.objects.of(site).filter(event_id__in=backs)}
        for filing in filings:
            if filing.reverses is None:
                said = {"doubt": filing["doubt"], "note": filing["reason"]}
                DoubtSeen.objects.create(site=site, **said, **reported(filing))
                continue
            row = seen.get(filing.reverses.event_id)
            if row is None or hasattr(row, "taken_back"):
                filing.error = RecordError(f"{filing.reverses} was taken back before.", column="reverses")
            else:
                DoubtSeen.objects.create(site=site, doubt=row.doubt, **taking(row, filing))


class DoubtsSeenKind(RecordKind):
    """Doubts that a planner has seen and leaves as they are."""

    name = "doubts_seen"
    order = 288
    rank = 8
    did = "Seen"
    help = "A doubt about reels that a planner has looked at and leaves as it is, and why. Doubts are never stored."
    permission = PLAN
    keeper = DoubtsSeenKeeper()
    columns = (
        ID,
        Column("doubt", Text(300), "What it is about, as the page of doubts names it.", required=True),
        Column("reason", Text(300), "Why it stays as it is.", required=True),
        AT,
        BY,
    )

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the doubt."""
        return f"doubt {said['doubt']}"[:160]


register_kind(DoubtsSeenKind())

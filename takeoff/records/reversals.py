"""Taking something back: a record of its own, with a reason. Both stay."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from takeoff.people.permissions import SEE
from takeoff.records.record_kinds import AT, BY, ID, Filing, Keeper, RecordKind, kinds, register_kind
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Text


class ReversalsKind(RecordKind):
    """What is taken back, whatever it was, by its id. Kept by the ledger that kept what is taken back."""

    name = "reversals"
    order = 290
    rank = 9
    help = "What never happened, or not so: anything that was reported is taken back by its id. Both stay."
    did = "Taken back"
    permission = SEE  # the kind that is taken back decides
    columns = (
        ID,
        Column("reverses", Text(80), "The id of what is taken back.", required=True),
        AT,
        Column("reason", Text(300), "Why.", required=True),
        BY,
    )

    def subject(self, said: Mapping[str, Any]) -> str:
        """Return the record that is taken back; the door asks its kind once it is known."""
        return f"record {said['reverses']}"

    def keeper_of(self, filing: Filing) -> Keeper:
        """Return the ledger that kept what is taken back."""
        assert filing.reverses is not None
        return kinds()[filing.reverses.kind].keeper


register_kind(ReversalsKind())

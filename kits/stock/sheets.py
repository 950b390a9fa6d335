"""What a load of events does to days that are past: no table of its own, a look at those of others."""

from __future__ import annotations

from datetime import datetime

from kits.stock.past_days import below_zero_since, latest_moves
from takeoff.sheets.context import LoadContext
from takeoff.sheets.registry import register_follower
from takeoff.sheets.table_kinds import Row


def look_at_past_days(context: LoadContext) -> None:
    """
    Say where something that is told late makes a past day impossible: a bin held less than nothing at its end.

    What happened is kept all the same; somebody looks for the record that is still missing, or wrong.
    """
    first: dict[int, Row] = {}
    for row in context.event_rows:
        item = row.values.get("item")
        if item is not None and (item.pk not in first or row["at"] < first[item.pk]["at"]):
            first[item.pk] = row
    earliest = min((row["at"] for row in first.values()), default=context.now)
    latest = latest_moves(context.site, first, earliest, context.now) if first else {}
    late: dict[int, datetime] = {pk: row["at"] for pk, row in first.items() if pk in latest and row["at"] < latest[pk]}
    for each in below_zero_since(context.site, late) if late else ():
        text = f"the books of past days cannot be so, a record is missing or wrong: {each}"
        context.caution(first[each.item.pk], "at", text)


register_follower(
    tables={
        *("receipts", "issues", "returns", "counts", "transfers", "scraps", "send_backs"),
        *("sends", "takings_in", "reversals"),
    },
    follow=look_at_past_days,
    after_events=True,
)

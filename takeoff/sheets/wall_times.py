"""Times that the clock on the wall skips or shows twice, since it is put forward or back."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime

from takeoff.sheets.cells.kinds import Moment
from takeoff.sheets.context import LoadContext
from takeoff.sheets.table_kinds import Row, Table


def look_at_clocks(context: LoadContext, table: Table, rows: Iterable[Row]) -> None:
    """Ask about each time of a sheet that its day does not have, or has twice."""
    columns = [column.name for column in table.columns if isinstance(column.kind, Moment)]
    for row in rows if columns else ():
        for column in columns:
            moment = row.values[column]
            # A time with an offset of its own says which it is.
            if column in row.raw and moment is not None and moment.tzinfo is context.reading.tz:
                doubt = doubt_of(moment)
                if doubt:
                    context.caution(row, column, doubt)


def doubt_of(moment: datetime) -> str:
    """Return what is wrong with a time on the wall of its zone, and what it is taken as; empty where nothing is."""
    if moment.replace(fold=0).utcoffset() == moment.replace(fold=1).utcoffset():
        return ""
    there = moment.astimezone(UTC).astimezone(moment.tzinfo)
    if there.replace(tzinfo=None) != moment.replace(tzinfo=None):
        return f"does not exist, since clocks go forward that night: taken as {there:%H:%M}"
    return "exists twice, since clocks go back that night: taken as the first"

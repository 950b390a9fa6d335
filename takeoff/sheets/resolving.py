"""From the names in cells to the things they mean."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from takeoff.sheets.cells.kinds import Reference, one_of, with_article
from takeoff.sheets.context import LoadContext
from takeoff.sheets.tables import Row, Table

SUGGESTED = 50  # names that a load looks for a near one of; comparing with all of a site takes a while


def resolve(context: LoadContext, table: Table, rows: list[Row]) -> tuple[list[Row], list[Row]]:
    """Return the rows with things in place of names, and those that name something nobody knows (each a problem)."""
    references = [
        (
            column.name,
            column.kind.to,
            context.lookup(column.kind.to, {row.values[column.name] for row in rows} - {"", None}),
        )
        for column in table.columns
        if isinstance(column.kind, Reference)
    ]
    if not references:
        return rows, []
    good, bad = [], []
    expected: dict[tuple[str, str], str] = {}
    for row in rows:
        values = row.values
        found = {}
        known_all = True
        for name, kind, known in references:
            text = values[name]
            if not text:
                continue
            thing = known.get(text)
            if thing is None:
                known_all = False
                # A blank that follows another row is no second problem.
                if name in row.raw and not context.is_withheld(kind, text):
                    if (kind, text) not in expected:
                        suggest = not context.narrow and len(expected) < SUGGESTED
                        expected[kind, text] = _expected(kind, text, known, suggest, context.narrow)
                    context.problem(row, name, expected=expected[kind, text])
            found[name] = thing
        if known_all:
            values.update(found)
            good.append(row)
        else:
            bad.append(row)
    return good, bad


def _expected(kind: str, text: str, known: Mapping[str, Any], suggest: bool, narrow: bool) -> str:
    """Return what a reference that nobody knows should have been."""
    if not known and not narrow:
        return f"the name of {with_article(kind)}; there is none yet"
    if not suggest:
        return f"the name of {with_article(kind)} that is known"
    return f"the name of {with_article(kind)}: {one_of(known, text)}"

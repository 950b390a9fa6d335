"""From the names in cells to the things they mean."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from takeoff.sheets.cells.kinds import Reference, lookalike, one_of, with_article
from takeoff.sheets.context import LoadContext
from takeoff.sheets.table_kinds import Row, Table

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
    if suggest and (meant := next((name for name in known if lookalike(name) == lookalike(text)), None)):
        return f"the name of {with_article(kind)}: {meant} {how_alike(text, meant)}"
    if not suggest:
        return f"the name of {with_article(kind)} that is known"
    return f"the name of {with_article(kind)}: {one_of(known, text)}"


def how_alike(text: str, meant: str) -> str:
    """Return how a name that looks like another is written: with the letter l where the other has the digit 1."""
    for ours, theirs in zip(text, meant, strict=False):
        if ours != theirs and ours.casefold() != theirs.casefold():
            return f"is written with {_sign(theirs)}, this with {_sign(ours)}"
    return "is written with other capitals"


def _sign(sign: str) -> str:
    return f"the {'digit' if sign.isdigit() else 'letter'} {sign}" if sign.isalnum() else f"the sign {sign}"


def look_alike_names(context: LoadContext, table: Table, rows: list[Row]) -> None:
    """Ask about a name that is new and looks like one that is known, or like another of this sheet."""
    for kind, column in table.names.items():
        known = context.lookup(kind)
        alike = {lookalike(name): name for name in known}
        for row in rows:
            name = row[column]
            if name not in known and (other := alike.setdefault(lookalike(name), name)) != name:
                context.caution(row, column, f"looks like {other}, which {how_alike(name, other)}")

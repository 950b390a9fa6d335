"""Writing what the rows of a table ask for, for all tables that need no write of their own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from django.db import models, transaction

from takeoff.database.bulk import insert_rows, rewrite
from takeoff.sheets.agreeing import first_rows, told_change
from takeoff.sheets.context import LoadContext
from takeoff.sheets.matching import Matched
from takeoff.sheets.table_kinds import DescriptionTable, Row

M = TypeVar("M", bound=models.Model)


@transaction.atomic
def save_matched(context: LoadContext, matched: Matched[M]) -> None:
    """
    Write new and changed records, and delete what fell out of a set; what the table names can be named from then on.

    Validation is the caller's: cells were checked by their columns, and the database holds its own constraints.
    """
    if matched.removed:
        _of(context, type(matched.removed[0])).filter(pk__in=[record.pk for record in matched.removed]).delete()
    table = matched.pairs[0][0].table if matched.pairs else None
    # Where rows are parts of something, the table names the whole, which is saved by itself.
    names = table.names if isinstance(table, DescriptionTable) and not table.whole else {}
    insert_rows(matched.new, keys=bool(names))
    if matched.changed:
        rewrite(_of(context, type(matched.changed[0])), matched.changed, matched.fields)
    for kind, column in names.items():
        for row, record in matched.pairs:
            context.remember(kind, row[column], record)


@transaction.atomic
def save_wholes(context: LoadContext, table: DescriptionTable, rows: Sequence[Row], model: type[M]) -> Mapping[str, M]:
    """Create and change the wholes that rows are parts of, such as orders; return all of the site, by name."""
    known = context.lookup(table.whole)
    new, changed = [], []
    for name, row in first_rows(context, rows).items():
        record = known.get(name)
        if record is None:
            fields = {field: row[field] for field in table.of_whole}
            new.append(model(site=context.site, name=name, **fields))
            continue
        differing = [field for field in table.of_whole if row.gives(field) and getattr(record, field) != row[field]]
        if differing:
            details = tuple(told_change(field, getattr(record, field), row[field]) for field in differing)
            context.count(table.name, "changed", name, details)
            for field in differing:
                setattr(record, field, row[field])
            changed.append(record)
    insert_rows(new)
    rewrite(_of(context, model), changed, table.of_whole)
    for record in new:
        context.remember(table.whole, str(record), record)
    return context.lookup(table.whole)


def _of(context: LoadContext, model: type[M]) -> models.QuerySet[M]:
    rows: Any = model
    found: models.QuerySet[M] = rows.objects.of(context.site)
    return found

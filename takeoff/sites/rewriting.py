"""Writing many new or changed rows at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

from django.db import connections, models

M = TypeVar("M", bound=models.Model)


def rewrite(rows: models.QuerySet[M], changed: Sequence[M], fields: Iterable[str]) -> None:
    """
    Write `fields` of rows that exist, in one statement for each batch. Called by services only, in their transaction.

    Does what `bulk_update` does, some ten times as fast: an INSERT that updates on a conflict of the primary key needs
    no CASE for every row and field. A row that was deleted meanwhile would be made anew, so the caller holds a lock
    that keeps it (the site's, mostly).
    """
    names = sorted(fields)
    if changed and names:
        rows.bulk_create(changed, update_conflicts=True, unique_fields=["pk"], update_fields=names)


def insert(rows: models.QuerySet[M], new: Sequence[M], *, key: str = "") -> None:
    """
    Write new rows with one prepared statement, on PostgreSQL with COPY. Called by services only, in their transaction.

    Does what `bulk_create` does, at less than half its time. With `key`, a field that is unique among `rows`, every
    object gets its primary key; without, the objects are not to be used further.
    """
    if not new:
        return
    connection = connections[rows.db]
    fields = [field for field in rows.model._meta.concrete_fields if not field.primary_key]
    quote = connection.ops.quote_name
    columns = ", ".join(quote(str(field.column)) for field in fields)
    prepared = [
        [field.get_db_prep_save(field.pre_save(row, True), connection=connection) for field in fields] for row in new
    ]
    target = f"{quote(rows.model._meta.db_table)} ({columns})"
    with connection.cursor() as cursor:
        # Names come from the models, values only as parameters.
        if connection.vendor == "postgresql":
            with connection.wrap_database_errors, cursor.copy(f"COPY {target} FROM STDIN") as copy:
                for values in prepared:
                    copy.write_row(values)
        else:
            marks = ", ".join(["%s"] * len(fields))
            cursor.executemany(f"INSERT INTO {target} VALUES ({marks})", prepared)  # noqa: S608
    if key:
        keys = dict(rows.values_list(key, "pk"))
        for row in new:
            row.pk = keys[getattr(row, key)]
            row._state.adding = False
            row._state.db = rows.db

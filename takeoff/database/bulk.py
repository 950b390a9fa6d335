"""Writing many new or changed rows at once. Called by services only, in their transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Sequence
from typing import Any, TypeVar

from django.db import connection, models

from takeoff.database.fields import ExactField
from takeoff.units.exact import to_ticks

M = TypeVar("M", bound=models.Model)

ROWS_IN_ONE = 1000
CHUNK = 10_000  # keys in one IN list: below what every build of SQLite takes
MANY = 100  # from here on copying is quicker than inserting, its two more questions counted
PLAIN = (models.CharField, models.TextField, models.IntegerField, models.BooleanField)


def rewrite(rows: models.QuerySet[M], changed: Sequence[M], fields: Iterable[str]) -> None:
    """
    Write `fields` of rows that exist, in one statement for each batch.

    Does what `bulk_update` does, some ten times as fast: an INSERT that updates on a conflict of the primary key needs
    no CASE for every row and field. A row that was deleted meanwhile would be made anew, so the caller holds a lock
    that keeps it.
    """
    names = sorted(fields)
    if changed and names:
        by_key = sorted(changed, key=lambda row: row.pk)  # as locks are taken
        rows.bulk_create(by_key, update_conflicts=True, unique_fields=["pk"], update_fields=names)


def insert_rows(rows: Sequence[Any], *, keys: bool = True, model: type[models.Model] | None = None) -> None:
    """
    Insert unsaved rows of one model in their order, and give each its key.

    Does what `bulk_create` does, without the calls that it makes for every field of every row; a load writes tens of
    thousands of them. A parent that was unsaved when the row was made must have been inserted by now. Without `keys`
    it is quicker still, and the rows are not to be used further. On PostgreSQL many rows are copied, their keys drawn
    before; others wait for what is written meanwhile, and a copy takes a third of the time. model : whose rows they
    are, where they only have its values: to make models takes longer than to write their rows.
    """
    if not rows:
        return
    model = model or type(rows[0])
    fields = [field for field in model._meta.concrete_fields if not field.primary_key]
    readers = [_reader(field) for field in fields]
    quote = connection.ops.quote_name
    # Names come from the models, values only as parameters.
    target = f"{quote(model._meta.db_table)} ({', '.join(quote(str(field.column)) for field in fields)})"
    marks = f"({', '.join(['%s'] * len(fields))})"
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql" and (not keys or len(rows) >= MANY):
            if keys:
                _draw_keys(cursor, rows)
                fields.append(model._meta.pk)
                readers.append(lambda row: row.pk)
            columns = ", ".join(quote(str(field.column)) for field in fields)
            into = f"COPY {quote(model._meta.db_table)} ({columns}) FROM STDIN"
            with connection.wrap_database_errors, cursor.copy(into) as copy:
                for row in rows:
                    copy.write_row([read(row) for read in readers])
            return
        if not keys:
            values = [[read(row) for read in readers] for row in rows]
            cursor.executemany(f"INSERT INTO {target} VALUES {marks}", values)  # noqa: S608
            return
        end = f" RETURNING {quote(model._meta.pk.attname)}"
        limit = _most_parameters()
        size = min(ROWS_IN_ONE, limit // len(fields)) if limit else ROWS_IN_ONE
        for first in range(0, len(rows), size):
            batch = rows[first : first + size]
            written = [read(row) for row in batch for read in readers]
            cursor.execute(f"INSERT INTO {target} VALUES " + ", ".join([marks] * len(batch)) + end, written)  # noqa: S608
            for row, (key,) in zip(batch, cursor.fetchall(), strict=True):
                row.pk = key
                row._state.adding = False
                row._state.db = connection.alias


def check_references_now() -> None:
    """Have PostgreSQL check now what rows that were written so far point to, which it else does at the commit."""
    if connection.vendor == "postgresql":
        connection.check_constraints()


def _draw_keys(cursor: Any, rows: Sequence[models.Model]) -> None:
    """Give rows the next keys of their table, in their order (PostgreSQL)."""
    meta = rows[0]._meta
    drawn = "SELECT nextval(pg_get_serial_sequence(%s, %s)) FROM generate_series(1, %s)"
    cursor.execute(drawn, [connection.ops.quote_name(meta.db_table), meta.pk.column, len(rows)])
    for row, (key,) in zip(rows, cursor.fetchall(), strict=True):
        row.pk = key
        row._state.adding = False
        row._state.db = connection.alias


def _most_parameters() -> int | None:
    """Return how many values one statement takes; what SQLite was built for, which is more than Django counts on."""
    if connection.vendor == "sqlite":
        return int(connection.connection.getlimit(sqlite3.SQLITE_LIMIT_VARIABLE_NUMBER))
    return connection.features.max_query_params


def _reader(field: models.Field) -> Callable[[models.Model], Any]:
    """Return what reads a field's value off a row in the form in which the database takes it."""
    name = field.attname
    if isinstance(field, models.ForeignKey):
        return lambda row: _key(row, field)
    if isinstance(field, ExactField):
        return lambda row: None if (value := getattr(row, name)) is None else to_ticks(value)
    if isinstance(field, models.DateTimeField):
        adapt = connection.ops.adapt_datetimefield_value
        return lambda row: adapt(getattr(row, name))
    if isinstance(field, models.DateField):
        day = connection.ops.adapt_datefield_value
        return lambda row: day(getattr(row, name))
    if isinstance(field, PLAIN):
        return lambda row: getattr(row, name)
    return lambda row: field.get_db_prep_save(field.pre_save(row, True), connection=connection)


def _key(row: models.Model, field: models.ForeignKey) -> Any:
    key = getattr(row, field.attname)
    if key is None and field.is_cached(row):
        parent = field.get_cached_value(row)
        key = parent.pk if parent is not None else None
        setattr(row, field.attname, key)
    return key

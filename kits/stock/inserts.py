"""
Inserting many rows at once.

Does what `bulk_create` does for models whose fields are text, numbers, yes or no, moments, days, exact numbers and
keys, without the calls that it makes for every field of every row; a load posts tens of thousands of them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.db import connection, models

from takeoff.units.exact import to_ticks
from takeoff.units.fields import ExactField

ROWS_IN_ONE = 1000


def insert_rows(rows: Sequence[models.Model]) -> None:
    """
    Insert unsaved rows of one model in their order, and give each its key.

    A parent that was unsaved when the row was made must have been inserted by now.
    """
    if not rows:
        return
    model = type(rows[0])
    fields = [field for field in model._meta.concrete_fields if not field.primary_key]
    readers = [_reader(field) for field in fields]
    quote = connection.ops.quote_name
    columns = ", ".join(quote(field.column or field.name) for field in fields)
    one = f"({', '.join(['%s'] * len(fields))})"
    start = f"INSERT INTO {quote(model._meta.db_table)} ({columns}) VALUES "  # noqa: S608  # names of the models' own
    end = f" RETURNING {quote(model._meta.pk.attname)}"
    limit = connection.features.max_query_params
    size = min(ROWS_IN_ONE, limit // len(fields)) if limit else ROWS_IN_ONE
    with connection.cursor() as cursor:
        for first in range(0, len(rows), size):
            batch = rows[first : first + size]
            values = [read(row) for row in batch for read in readers]
            cursor.execute(start + ", ".join([one] * len(batch)) + end, values)
            for row, (key,) in zip(batch, cursor.fetchall(), strict=True):
                row.pk = key
                row._state.adding = False
                row._state.db = connection.alias


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
    return lambda row: getattr(row, name)


def _key(row: models.Model, field: models.ForeignKey) -> Any:
    key = getattr(row, field.attname)
    if key is None and field.is_cached(row):
        parent = field.get_cached_value(row)
        key = parent.pk if parent is not None else None
        setattr(row, field.attname, key)
    return key

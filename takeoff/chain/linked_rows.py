"""
What stands in the chain, and the hash of it.

Every table that a floor names in `AppConfig.append_only` does. Most are linked by their own keys. A table whose rows
are written in one act with a row of another says so by `made_with`, the name of its foreign key: its rows are hashed
with that row, so that none can be put in later. A column at its default is left out of the hash, so that one added
later changes nothing; a field that gets another name keeps its column (`db_column`).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from functools import cache
from typing import Any

from django.apps import apps
from django.db import connection, models

from takeoff.chain.models import Link

ROWS_AT_ONCE = 1000


def linked_models() -> list[type[models.Model]]:
    """Return the models whose rows are linked by their own keys, by table."""
    return sorted((model for model in _kept_models() if _parent(model) is None), key=_table)


def made_with(model: type[models.Model]) -> list[tuple[type[models.Model], str]]:
    """Return the models whose rows are written with a row of `model`, by table, each with its column for that row."""
    found = [(each, field) for each in _kept_models() if (field := _parent(each)) and field.related_model is model]
    return [(each, str(field.column)) for each, field in sorted(found, key=lambda pair: _table(pair[0]))]


def hash_of(link: Link, before: str) -> tuple[str, int]:
    """
    Return the hash that a link has by the rows as they are now, and how many of its own rows are there.

    before : the hash of the link before it, empty for the first. Reads a part of the rows at a time. A link that names
    no table of these has none.
    """
    model = next((each for each in linked_models() if _table(each) == link.table), None)
    if model is None:
        return "", 0
    key = connection.ops.quote_name(str(model._meta.pk.column))
    told = [link.site_id, link.number, link.table, link.first, link.last, link.at.isoformat()]
    digest = hashlib.sha256(json.dumps([before, *told]).encode())
    rows = 0
    for line in _lines(model, f"{key} BETWEEN %s AND %s", [link.first, link.last]):
        digest.update(line)
        rows += line.startswith(_start(model))
    return digest.hexdigest(), rows


def _lines(model: type[models.Model], where: str, keys: list[int]) -> Iterator[bytes]:
    """Yield rows as lines of text by key, then those that were written with them."""
    quote = connection.ops.quote_name
    key, start = str(model._meta.pk.column), _start(model)
    columns, defaults = zip(*_columns(model), strict=True)
    # Names come from the models, values only as parameters.
    named = f"SELECT {', '.join(map(quote, columns))} FROM {quote(_table(model))} WHERE"  # noqa: S608
    with connection.cursor() as cursor:
        cursor.execute(f"{named} {where} ORDER BY {quote(key)}", keys)
        while rows := cursor.fetchmany(ROWS_AT_ONCE):
            for row in rows:
                said = [
                    (column, value)
                    for column, value, default in zip(columns, row, defaults, strict=True)
                    if value is not None and value != default
                ]
                yield start + json.dumps(said, ensure_ascii=False, default=str).encode() + b"\n"
    for part, column in made_with(model):
        within = f"SELECT {quote(key)} FROM {quote(_table(model))} WHERE {where}"  # noqa: S608
        yield from _lines(part, f"{quote(column)} IN ({within})", keys)


def _columns(model: type[models.Model]) -> list[tuple[str, Any]]:
    """Return a model's columns by name, each with what it holds by default."""
    fields = sorted(model._meta.concrete_fields, key=lambda field: str(field.column))
    return [(str(field.column), _default(field)) for field in fields]


def _default(field: models.Field) -> Any:
    """Return what a column holds where nothing is said, None where that is nothing or differs from row to row."""
    if not field.has_default():
        return "" if isinstance(field, models.CharField | models.TextField) else None
    if callable(field.default) and field.default not in (list, dict):
        return None
    value = field.get_default()
    return json.dumps(value) if isinstance(field, models.JSONField) else field.get_db_prep_save(value, connection)


@cache
def _kept_models() -> tuple[type[models.Model], ...]:
    kept = [config.get_model(name) for config in apps.get_app_configs() for name in getattr(config, "append_only", {})]
    return tuple(model for model in kept if model is not Link)


def _parent(model: type[models.Model]) -> models.ForeignKey | None:
    name = getattr(model, "made_with", "")
    return model._meta.get_field(name) if name else None  # type: ignore[return-value]  # a foreign key, by a test


def _table(model: type[models.Model]) -> str:
    return str(model._meta.db_table)


def _start(model: type[models.Model]) -> bytes:
    return f"{_table(model)} ".encode()

"""Rows against the records that exist: what is new, what changes, what falls out of a set."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from django.db import models

from takeoff.database.bulk import insert_rows, rewrite
from takeoff.database.fields import LengthField
from takeoff.sheets.table_kinds import DescriptionTable, Row, Table
from takeoff.units.exact import to_ticks
from takeoff.units.shown import exactly

if TYPE_CHECKING:
    from takeoff.sheets.context import LoadContext

M = TypeVar("M", bound=models.Model)


@dataclass(slots=True)
class Matched(Generic[M]):
    """
    What the rows of a table ask for.

    `new` are unsaved, `changed` carry their new values unsaved, `removed` are the members of a replaced set that no row
    names. `fields` are those that differ on any of `changed`. `pairs` is every row with its record, in sheet order.
    """

    new: list[M] = field(default_factory=list)
    changed: list[M] = field(default_factory=list)
    removed: list[M] = field(default_factory=list)
    fields: set[str] = field(default_factory=set)
    pairs: list[tuple[Row, M]] = field(default_factory=list)


def match(
    context: LoadContext,
    rows: Sequence[Row],
    *,
    model: type[M],
    existing: Mapping[Any, M],
    key: Callable[[Row], Hashable],
    values: Callable[[Row], dict[str, Any]],
    columns: Mapping[str, str] | None = None,
    identity: Callable[[Row], dict[str, Any]],
    besides: frozenset[str] = frozenset(),
    table: Table | None = None,
) -> Matched[M]:
    """
    Match rows with records and count them as new, changed, unchanged or, for a set that is replaced, removed.

    existing : the records that the rows may mean, by what `key` gives for a row; for a table that `replaces` a set,
        exactly the members of the sets that the rows name.
    values : the fields that a row sets, foreign keys under their attname (`supplier_id`).
    columns : the column that each field comes from, where it has another name; a field whose column the sheet leaves
        out is not changed on a record that exists, unless the rows replace a whole set.
    identity : the fields that only a new record needs besides `values`: its site or parent, and its key.
    besides : names in `values` that are no fields: existing records carry them as attributes, and a difference counts
        as a change of the record, while the caller keeps them elsewhere.
    table : needed where no row may be left, since all of a set is taken away.
    """
    matched: Matched[M] = Matched()
    if not rows and table is None:
        return matched
    table = table or rows[0].table
    columns = columns or {}
    given_fields: dict[frozenset[str], list[str]] = {}
    seen: set[Hashable] = set()
    outcome = context.outcomes[table.name]
    replaces = isinstance(table, DescriptionTable) and bool(table.replaces)
    for row in rows:
        wanted = values(row)
        row_key = key(row)
        seen.add(row_key)
        record = existing.get(row_key)
        if record is None:
            kept = {name: wanted[name] for name in wanted if name not in besides} if besides else wanted
            record = model(**identity(row), **kept)
            matched.new.append(record)
            outcome.count("new", " ".join(row.key))
        else:
            if row.columns not in given_fields:
                given_fields[row.columns] = [
                    name for name in wanted if replaces or columns.get(name, name) in row.columns
                ]
            fields = [name for name in given_fields[row.columns] if getattr(record, name) != wanted[name]]
            if fields:
                details = tuple(
                    _difference(context, model, row, columns.get(name, name), name, getattr(record, name), wanted[name])
                    for name in fields
                )
                for name in fields:
                    setattr(record, name, wanted[name])
                if differing := set(fields) - besides:
                    matched.changed.append(record)
                    matched.fields.update(differing)
                outcome.count("changed", " ".join(row.key), details)
            else:
                outcome.counts["unchanged"] += 1
        matched.pairs.append((row, record))
    if replaces:
        for record_key, record in existing.items():
            if record_key not in seen:
                matched.removed.append(record)
                outcome.count("removed", str(record))
    return matched


def bulk_save(
    rows: models.QuerySet[M], *, new: Sequence[M], changed: Sequence[M], fields: set[str], keys: bool = False
) -> None:
    """
    Write new and changed records in as few statements as the database takes. Called by services only.

    rows : the site's records of the model, `Item.objects.of(site)`.
    keys : whether the new records are named further in the load.
    Validation is the caller's: cells were checked by their columns, and the database holds its own constraints.
    """
    insert_rows(new, keys=keys)
    rewrite(rows, changed, fields)


def _difference(
    context: LoadContext, model: type[models.Model], row: Row, column: str, name: str, old: Any, new: Any
) -> str:
    """Return one changed field as `tiers: 2 → 3`; of a reference only the new name."""
    if name.endswith("_id"):
        return f"{column}: → {row[column] or 'none'}"
    kinds = {field.name: field for field in model._meta.concrete_fields}
    if name not in kinds or isinstance(kinds[name], LengthField):  # what is kept elsewhere is a length, too
        old, new = (_length(value, context.site.unit) for value in (old, new))
    return f"{column}: {_shown(old)} → {_shown(new)}"


def _length(value: Any, unit: str) -> str | None:
    return None if value is None else exactly(to_ticks(value), unit)


def _shown(value: Any) -> str:
    if value is None or value == "":
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    return str(value)

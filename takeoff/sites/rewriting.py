"""Writing many changed rows at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

from django.db import models

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

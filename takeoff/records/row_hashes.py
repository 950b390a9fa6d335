"""What a record says, in one spelling, and the hash by which the same record is known again."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from takeoff.sheets.table_kinds import EventTable, plain_text


def written_row(kind: EventTable, values: Mapping[str, Any]) -> dict[str, str]:
    """
    Return what a row says by column, each cell in the one spelling that its kind reads as the same value.

    Cells that hold their column's default are left out, so that a column left out, and one added later, change nothing.
    """
    return {
        column.name: column.kind.written(value)
        for column in kind.columns
        if (value := values[column.name]) not in (None, "") and value != column.default
    }


def row_hash(kind: str, written: Mapping[str, str]) -> str:
    """Return the SHA-256 of a written row: never of a corrected time, nor of what followed from it."""
    text = json.dumps([kind, dict(sorted(written.items()))], ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def hash_as_before(kind: str, values: Mapping[str, Any]) -> str:
    """Return the hash by which events were known before records were kept: defaults and time zones were part of it."""
    content = {name: plain_text(value) for name, value in sorted(values.items()) if value not in (None, "")}
    text = json.dumps([kind, content], ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()

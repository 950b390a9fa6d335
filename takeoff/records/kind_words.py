"""What kinds of record there are, in words, for docs/records.md."""

from __future__ import annotations

from takeoff.records.record_kinds import kinds


def describe_kinds() -> str:
    """Return the kinds of record as a table: who may send each, and what it says."""
    lines = ["| kind | who may | what it says |", "|---|---|---|"]
    for kind in sorted(kinds().values(), key=lambda kind: kind.order):
        who = "whoever may send what is taken back" if not hasattr(kind, "keeper") else kind.permission.does
        lines.append(f"| `{kind.name}` | {who} | {kind.help} |")
    return "\n".join(lines) + "\n"

"""A reconciliation for machines: exact figures, lengths in millimetres. Its keys are told in `docs/reconcile.md`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kits.shortages.reckon.lines import CableLine, Reconciliation, ShortLine, StageReadiness, Walk
from takeoff.units.exact import from_ticks

QUANTITIES = (
    "takeoff",
    "promised",
    "ordered",
    "shipped",
    "counted",
    "rejected",
    "on_hand",
    "usable",
    "issued",
    "used",
    "inbound",
    "need",
    "need_expected",
    "need_covered",
    "short",
)


def plain(ticks: int | None) -> int | float | None:
    """
    Return ticks as a JSON number: a whole one where it is, else with up to four decimals.

    >>> plain(30_000), plain(12_345), plain(None)
    (3, 1.2345, None)
    """
    if ticks is None:
        return None
    value = from_ticks(ticks)
    return int(value) if value == value.to_integral_value() else float(value)


def as_json(reconciliation: Reconciliation) -> dict[str, Any]:
    """Return what `reconcile --json` prints."""
    return {
        "site": reconciliation.site,
        "as_of": reconciliation.as_of.isoformat(),
        "lines": [_line(line) for line in reconciliation.lines],
        "cables": [_cable(cable) for cable in reconciliation.cables],
        "readiness": [_readiness(row) for row in reconciliation.readiness],
    }


def _line(line: ShortLine) -> dict[str, Any]:
    return {
        "item": line.item.code,
        "unit": line.item.unit,
        **{name: plain(getattr(line, name)) for name in QUANTITIES},
        "short_on": line.short_on.isoformat() if line.short_on else None,
        "order_by": line.order_by.isoformat() if line.order_by else None,
        "order": plain(line.order),
        "expedite": plain(line.expedite),
        "spare": plain(line.spare),
        "learned": plain(line.learned),
        "timing": plain(line.timing),
        "other_runs": plain(line.other_runs),
        **({"runs": {", ".join(walk.runs): _walk(walk) for walk in line.walks}} if line.item.for_run else {}),
        "causes": {cause: plain(value) for cause, value in line.causes.items()},
    }


def _walk(walk: Walk) -> dict[str, Any]:
    return {
        **{name: plain(getattr(walk, name)) for name in ("need", "usable", "inbound", "short")},
        "short_on": walk.short_on.isoformat() if walk.short_on else None,
        "order_by": walk.order_by.isoformat() if walk.order_by else None,
        **{name: plain(getattr(walk, name)) for name in ("order", "expedite", "spare")},
    }


def _cable(cable: CableLine) -> dict[str, Any]:
    return {
        "cable": cable.cable,
        "need": plain(cable.need),
        "cut": plain(cable.cut),
        "on_reels": plain(cable.on_reels),
        "unmet": [{"run": u.run, "conductor": u.conductor, "length": plain(u.length)} for u in cable.unmet],
        "buy": _reels(cable.buy),
        "scrap": plain(cable.scrap),
        "remnants": cable.remnants,
        "bound": plain(cable.bound),
        "gap": plain(cable.gap),
        "proven": cable.proven,
        "short_on": cable.short_on.isoformat() if cable.short_on else None,
        "order_by": cable.order_by.isoformat() if cable.order_by else None,
        "order": _reels(cable.order),
        "on_order": [
            {
                "order": one.order,
                "length": plain(one.length),
                "count": one.count,
                "expected": one.on.isoformat() if one.on else None,
            }
            for one in cable.on_order
        ],
    }


def _reels(reels: Sequence[tuple[int, int]] | None) -> list[dict[str, Any]] | None:
    return None if reels is None else [{"length": plain(length), "count": count} for length, count in reels]


def _readiness(row: StageReadiness) -> dict[str, Any]:
    return {
        "run": row.run,
        "stage": row.stage,
        "planned": row.planned.isoformat() if row.planned else None,
        "state": row.state,
        "blocked_by": list(row.blocked_by),
        "missing": [{"item": m.item, "quantity": plain(m.quantity), "unit": m.unit} for m in row.missing],
        "not_before": row.not_before.isoformat() if row.not_before else None,
    }

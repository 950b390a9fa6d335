"""Reconciliations made by hand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from kits.shortages.reckon.lines import (
    CAUSES,
    CableLine,
    CableWare,
    Evidence,
    LearnedUsage,
    Reconciliation,
    ReelsOnOrder,
    ShortItem,
    ShortLine,
    StageNeed,
    UnmetLength,
    Walk,
)
from kits.shortages.reckon.usage import PRIORS
from kits.shortages.reckon.working_days import LeadTime
from takeoff.units.exact import to_ticks

TODAY = date(2026, 3, 2)


@dataclass(frozen=True)
class Sender:
    """A site as far as a list tells it."""

    name: str = "North yard"
    unit: str = "ft"
    currency: str = "USD"
    ship_to: str = "Gate 2"
    contact: str = "purchasing@north.example"


def ticks(value: str | int | Decimal) -> int:
    return to_ticks(value)


def stage(run: str, need: int, *, due: date = date(2026, 4, 1), name: str = "seals") -> StageNeed:
    return StageNeed(
        run_id=1,
        run=run,
        stage=name,
        planned=due,
        due=due,
        done=False,
        takeoff=need,
        drawn=need,
        issued=0,
        need=need,
        expected=need,
    )


def short_line(**given: Any) -> ShortLine:
    """A line that is 82 short: 84 needed, 13 usable, 11 more by learned usage, as finished stages used."""
    item = ShortItem(
        **{
            "id": 1,
            "code": "sealant",
            "description": "Sealant, cartridge",
            "unit": "cartridge",
            "pack": ticks(12),
            "min_order": ticks(24),
            "supplier_id": 7,
            "supplier": "Seals and more",
            "supplier_part": "S-101",
            "lead": LeadTime(14),
            "unit_cost": 760,
            "grade": "butyl rubber",
            "refuse": "latex, acrylic, silicone",
            "prior": PRIORS["bead"],
            **given.pop("item", {}),
        }
    )
    causes = {**dict.fromkeys(CAUSES, 0), "kit_list": ticks(60), "expired": ticks(12), "ordered_since": ticks(-1)}
    facts: dict[str, Any] = {
        "takeoff": ticks(84),
        "drawn": ticks(84),
        "promised": ticks(24),
        "ordered": 0,
        "shipped": ticks(24),
        "counted": ticks(24),
        "rejected": 0,
        "on_hand": ticks(25),
        "usable": ticks(13),
        "issued": 0,
        "used": 0,
        "inbound": 0,
        "need": ticks(84),
        "need_expected": ticks(90),
        "need_covered": ticks(95),
        "short": ticks(82),
        "short_on": date(2026, 4, 1),
        "out_on": date(2026, 4, 1),
        "need_by": date(2026, 3, 29),
        "order_by": date(2026, 3, 13),
        "order": ticks(84),
        "learned": ticks(11),
        "timing": 0,
        "causes": causes,
        "needs": (stage("CB-02", ticks(40), due=date(2026, 4, 9)), stage("CB-01", ticks(44))),
        "usage": LearnedUsage(
            mean_stage=Fraction(20),
            rate=Fraction(5, 4),
            kappa=Fraction(4),
            nu=6,
            phi=Fraction(1, 10),
            level=Fraction(95, 100),
            evidence=(Evidence("CB-04", "seals", ticks(4), ticks(6)), Evidence("CB-07", "seals", ticks(4), ticks(5))),
        ),
        **given,
    }
    return ShortLine(item=item, **facts)


def walk(run: str, *, size: str = "", order: int = 0, need_by: date | None = None) -> Walk:
    """What a run lacks of what is made for it."""
    return Walk(
        runs=(run,), size=size, need=ticks(order), usable=0, inbound=0, short=ticks(order), short_on=need_by,
        order=ticks(order), spare=0, out_on=need_by, need_by=need_by, order_by=need_by, comes_on=None, expedite=0,
        too_late=(), steps=(),
    )  # fmt: skip


def reconciliation(*lines: ShortLine, cables: tuple[CableLine, ...] = ()) -> Reconciliation:
    return Reconciliation(site="north", as_of=TODAY, lines=lines, cables=cables, level=Fraction(95, 100))


FT = 3_048_000


def cable_line(**given: Any) -> CableLine:
    """A cable of which 2 × 1000 ft and 1 × 500 ft are to be ordered, at 11.40 a foot, and 1 × 1000 ft is on order."""
    ware = CableWare(
        **{
            "id": 5,
            "description": "500 kcmil copper XHHW-2",
            "sold": (500 * FT, 1000 * FT),
            "least": 1500 * FT,
            "supplier_id": 7,
            "supplier": "Seals and more",
            "supplier_part": "0012",
            "lead": LeadTime(42),
            "cost_of_a_tick": Fraction(1140, FT),
            **given.pop("ware", {}),
        }
    )
    facts: dict[str, Any] = {
        "need": 9000 * FT,
        "cut": 1000 * FT,
        "open": 8000 * FT,
        "on_reels": 6000 * FT,
        "unmet": (UnmetLength("CB-9", "A1", 150 * FT), UnmetLength("CB-9", "A2", 150 * FT)),
        "method": "proposed cut plan",
        "buy": ((1000 * FT, 3), (500 * FT, 1)),
        "runs": ("CB-9",),
        "short_on": date(2026, 6, 1),
        "need_by": date(2026, 5, 29),
        "order_by": date(2026, 4, 17),
        "order": ((1000 * FT, 2), (500 * FT, 1)),
        "on_order": (ReelsOnOrder("PO-3", 1000 * FT, 1, date(2026, 5, 4)),),
        **given,
    }
    return CableLine("C500", ware=ware, **facts)

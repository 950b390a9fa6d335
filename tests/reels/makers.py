"""What happens to cable, told for tests in one line."""

from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from itertools import count

from reels.models import Cut, CutDecision, Reel
from takeoff.models import Conductor, Run, Site
from takeoff.records.answers import question_of
from takeoff.records.services import keep_one
from takeoff.records.terms.errors import AskFirstError
from tests.factories.reels import FT
from tests.factories.takeoff import ConductorFactory

_numbers = count(1)


def at(day: int = 2, hour: int = 12) -> datetime:
    """A moment in March 2026."""
    return datetime(2026, 3, day, hour, tzinfo=UTC)


def make_conductors(run: Run, feet: int | str, *names: str, least: int | str | None = None) -> list[Conductor]:
    """Conductors of a run that need `feet` each: A1 to C2 unless named."""
    length, least_length = Decimal(feet) * FT, Decimal(feet if least is None else least) * FT
    return [
        ConductorFactory(run=run, name=name, length=length, least_length=least_length)
        for name in names or ("A1", "A2", "B1", "B2", "C1", "C2")
    ]


@dataclass
class Recorded:
    cut: Cut
    warnings: tuple[str, ...] = ()


def cut(reel: Reel, outer=None, inner=None, *, confirmed=True, **fields) -> Recorded:
    """Record a cut by marks, by `taped` feet, or both. Returns it with what there is to look at."""
    row = cut_row(reel, outer, inner, **fields)
    warnings: tuple[str, ...] = ()
    try:
        record = keep_one(site=reel.site, kind="cuts", row=row)
    except AskFirstError as asked:
        if not confirmed:
            raise
        warnings = asked.said
        record = keep_one(site=reel.site, kind="cuts", row=row, confirmed=question_of(asked.said))
    return Recorded(Cut.objects.of(reel.site).get(event_id=record.event_id), warnings)


def cut_row(reel, outer=None, inner=None, *, taped=None, conductor=None, event_id="", **fields) -> dict:
    """The cells of a cut."""
    row = {"at": at(), "purpose": "conductor" if conductor else "trim", **fields}
    if conductor:
        row |= {"run": conductor.run, "conductor": conductor.name}
    if taped is not None:
        row["length"] = f"{taped} ft"
    return {
        "id": event_id or f"cut-{next(_numbers):06}",
        "reel": reel,
        "outer_mark": None if outer is None else Decimal(outer),
        "inner_mark": None if inner is None else Decimal(inner),
        **row,
    }


def decide(cut: Cut, decision: str, *, event_id: str, reason: str = "said so", **row) -> CutDecision:
    """Withdraw or accept a cut, or take it back."""
    row = {"at": at(3), **row, "id": event_id, "reason": reason}
    if decision == "reversed":
        record = keep_one(site=cut.site, kind="reversals", row={"reverses": cut.event_id, **row})
    else:
        record = keep_one(site=cut.site, kind="cut_decisions", row={"cut": cut, "decision": decision, **row})
    return CutDecision.objects.of(cut.site).get(event_id=record.event_id)


def take_back(site: Site, what: str, *, event_id: str = "", number: int = 4) -> CutDecision:
    """Take a decision back by its id."""
    row = {"id": event_id or f"back {what}", "reverses": what, "at": at(number), "reason": "said so"}
    return CutDecision.objects.of(site).get(event_id=keep_one(site=site, kind="reversals", row=row).event_id)

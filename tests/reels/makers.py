"""Rows for tests of the reels floor: each maker gives what is needed and lets the test say the rest."""

from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from itertools import count

from reels.models import Cut, CutDecision, Reel
from takeoff.models import Cable, Conductor, Measurement, Run, Site, Stage, User
from takeoff.records.services import keep_one, question_of
from takeoff.records.terms.errors import AskFirstError

_numbers = count(1)
FT = Decimal("304.8")


def at(day: int = 2, hour: int = 12) -> datetime:
    """A moment in March 2026."""
    return datetime(2026, 3, day, hour, tzinfo=UTC)


def make_site(slug: str = "", **fields) -> Site:
    slug = slug or f"site-{next(_numbers)}"
    # Tests of the books reckon with all of a reel unless they say otherwise.
    return Site.objects.create(slug=slug, name=slug, **{"safety_tail": 0, "mark_allowance": 0, **fields})


def make_cable(site: Site, code: str = "500-CU", **fields) -> Cable:
    basics = {"size": "500", "material": "Cu"}
    return Cable.objects.of(site).get_or_create(site=site, code=code, defaults={**basics, **fields})[0]


def make_run(
    site: Site, name: str = "", *, cable: Cable | None = None, planned=None, measured: bool = True, **fields
) -> Run:
    """A run whose centre line is `measured`, so that its cable may be cut; its conductors say their own lengths."""
    basics = {"tiers": 1, "phases": 3, "cables_per_phase": 2, "voltage_class": "LV", "ground_cables": 0}
    basics["cable"] = cable or make_cable(site)
    run = Run.objects.create(site=site, name=name or f"R{next(_numbers)}", **{**basics, **fields})
    if measured:
        Measurement.objects.create(run=run, length=FT, at=at(1))
    if planned:
        Stage.objects.create(run=run, stage="cables", planned=planned)
    return run


def make_conductors(run: Run, feet: int | str, *names: str, least: int | str | None = None) -> list[Conductor]:
    """Conductors of a run that need `feet` each: A1 to C2 unless named."""
    length, least_length = Decimal(feet) * FT, Decimal(feet if least is None else least) * FT
    return [
        Conductor.objects.create(run=run, name=name, cable=run.cable, length=length, least_length=least_length)
        for name in names or ("A1", "A2", "B1", "B2", "C1", "C2")
    ]


def make_reel(site: Site, tag: str = "", *, outer=None, inner=None, feet=None, cable: Cable | None = None, **fields):
    """A reel by its marks in feet, or by `feet` of cable without marks."""
    feet = abs(inner - outer) if feet is None else feet
    return Reel.objects.create(
        site=site,
        tag=tag or f"REEL{next(_numbers)}",
        cable=cable or make_cable(site),
        length=Decimal(feet) * FT,
        outer_mark=outer,
        inner_mark=inner,
        **fields,
    )


def make_user(name: str = "") -> User:
    return User.objects.create_user(name or f"user-{next(_numbers)}")


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

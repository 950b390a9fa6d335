"""Rows for tests of the reels floor: each maker gives what is needed and lets the test say the rest."""

from datetime import UTC, datetime
from decimal import Decimal
from itertools import count

from reels.ledger.checks import CutRecord, Recorded
from reels.ledger.services import record_cut
from reels.models import Reel
from takeoff.models import Cable, Conductor, Measurement, Run, Site, Stage

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


def cut(reel: Reel, outer=None, inner=None, *, taped=None, conductor=None, event_id="", confirmed=True, **fields):
    """Record a cut by marks, by `taped` feet, or both. Returns what became of it."""
    record = make_record(reel, outer, inner, taped=taped, conductor=conductor, event_id=event_id, **fields)
    return record_cut(site=reel.site, record=record, confirmed=confirmed)


def make_record(reel, outer=None, inner=None, *, taped=None, conductor=None, event_id="", **fields) -> CutRecord:
    basics = {"at": at(), "purpose": "conductor" if conductor else "trim"}
    return CutRecord(
        event_id=event_id or f"cut-{next(_numbers)}",
        reel=reel,
        conductor=conductor,
        outer_mark=None if outer is None else Decimal(outer),
        inner_mark=None if inner is None else Decimal(inner),
        taped=None if taped is None else Decimal(taped) * FT,
        **{**basics, **fields},
    )


__all__ = ["FT", "Recorded", "at", "cut", "make_cable", "make_conductors", "make_record", "make_reel", "make_run"]

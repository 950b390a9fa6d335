"""Filling a database with the demo site: sheets by the ordinary load path, cut plans, one person for each role."""

from __future__ import annotations

import csv
import secrets
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from kits.demo.dating import offset_of, write_dated_sheets
from kits.stock.models import Posting
from reels.planner.options import Options, usual_rates
from reels.plans.models import CutPlan
from reels.plans.queries import cables_to_plan
from reels.plans.services import accept_plan, ask_for_plan, run_plan
from takeoff.people.models import Member, User
from takeoff.records.services import keep_one
from takeoff.runs.models import LengthChoice, Run
from takeoff.sheets.cells.problems import CellProblem
from takeoff.sheets.files.sources import read_path
from takeoff.sheets.preview import LoadResult
from takeoff.sheets.services import load_sheets
from takeoff.sites.models import Site

SLUG = "quillmarsh"
SHEETS = Path(settings.BASE_DIR) / "docs" / "demo"
SECONDS_PER_CABLE = 3.0
TO_THE_DRAWING = "CB-06"


class OtherSiteError(Exception):
    """The database holds a site that is not the demo's."""


class DemoSheetsError(Exception):
    """The demo's own sheets did not load: `problems` says why."""

    def __init__(self, problems: list[CellProblem]) -> None:
        super().__init__("; ".join(str(problem) for problem in problems))
        self.problems = problems


@dataclass(frozen=True, slots=True)
class DemoPerson:
    """Somebody of the demo, with the password that was just made."""

    name: str
    role: str
    password: str
    renewed: bool


def refuse_other_sites() -> None:
    """Raise OtherSiteError when the database holds any site but the demo's."""
    others = list(Site.objects.exclude(slug=SLUG).order_by("slug").values_list("slug", flat=True)[:3])
    if others:
        raise OtherSiteError(
            f"This database holds another site ({', '.join(others)}). The demo fills an empty database only: "
            "set DATABASE_URL to one."
        )


def fill(*, folder: Path) -> tuple[Site, LoadResult | None]:
    """
    Return the demo's site and what loading it did, None when it is there already and was left as it is.

    The sheets are written into `folder` with real dates, counted from today, or from the day on which the site was
    first filled, and loaded from there. Raises OtherSiteError, and DemoSheetsError with nothing kept.
    """
    refuse_other_sites()
    first_day = first_day_of_books()
    write_dated_sheets(SHEETS, folder, first_day or today_there())
    if first_day:
        return Site.objects.get(slug=SLUG), None
    # What these sheets would be asked about was looked at when they were written.
    result = load_sheets(sheets=read_path(folder), slug=SLUG, confirmed=True)
    if result.problems:
        raise DemoSheetsError(result.problems)
    return Site.objects.get(slug=SLUG), result


def today_there() -> date:
    """Return today's date on the demo's site, which need not exist yet."""
    return timezone.now().astimezone(ZoneInfo(_first_row("site")["timezone"])).date()


def first_day_of_books() -> date | None:
    """Return the day from which the sheets were counted when they were loaded, None when they have not been."""
    site = Site.objects.filter(slug=SLUG).first()
    first = _first_row("receipts")
    posting = Posting.objects.of(site).filter(event_id=first["id"]).first() if site else None
    if site is None or posting is None:
        return None
    return site.local_date(posting.at) - timedelta(days=offset_of(first["at"]) or 0)


@transaction.atomic
def make_people(*, site: Site) -> list[DemoPerson]:
    """Make one person for each role, named after it; those who are there get a new password."""
    people = []
    for role in Member.Role:
        name = role.value
        password = secrets.token_urlsafe(12)
        user, new = User.objects.get_or_create(username=name, defaults={"email": f"{name}@{SLUG}.example"})
        user.set_password(password)
        user.save(update_fields=["password"])
        site.members.get_or_create(user=user, role=role)
        people.append(DemoPerson(name=name, role=role.label, password=password, renewed=not new))
    return people


def plan_cables(*, site: Site) -> list[CutPlan]:
    """
    Store a cut plan for every cable with something left to cut.

    One that cuts everything is accepted. One that cannot stays a proposal: somebody has to decide what to buy. One run
    that is not measured yet may be cut to the drawing.
    """
    planner = site.members.filter(role=Member.Role.PLANNER).select_related("user").first()
    row = {
        "id": f"to the drawing {TO_THE_DRAWING}",
        "run": Run.objects.of(site).get(name=TO_THE_DRAWING),
        "way": LengthChoice.Way.DRAWING.value,
        "reason": "Indoors, both boards bolted down: set out with a tape on the floor, as drawn",
        "at": timezone.now(),
    }
    keep_one(site=site, kind="length_choices", row=row, sender=planner.user if planner else None)
    plans = []
    for cable in cables_to_plan(site):
        options = Options(usual_rates(site.unit), seconds=SECONDS_PER_CABLE)
        plan = run_plan(plan=ask_for_plan(site=site, cable=cable, options=options))
        plans.append(plan if plan.unmet else accept_plan(site=site, plan=plan))
    return plans


def _first_row(table: str) -> dict[str, str]:
    with (SHEETS / f"{table}.csv").open(newline="", encoding="utf-8") as file:
        return next(csv.DictReader(file))

"""`manage.py reconcile`: what a site is short of, by when to order it, and why it is short."""

import json
from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from shutil import get_terminal_size
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from kits.reorders.workbook import write_workbooks
from kits.shortages.queries import reconcile
from kits.shortages.told.as_json import as_json
from kits.shortages.told.as_text import as_text
from kits.stock.past_days import below_zero_on
from takeoff.sites.models import Site

# For a cable that no stored cut plan fits; `plan_cuts` gives a plan more time, and keeps it.
SECONDS_PER_CABLE = 2.0
FIRST_YEAR, LAST_YEAR = 1900, 2999


class Command(BaseCommand):
    """Tells shortages, cables and readiness; writes workbooks where asked."""

    help = "Hold a site's books against its needs: shortages, cables, and what of each run is here."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the site, the day, and the forms of output."""
        parser.add_argument("--site", required=True, metavar="SLUG", help="The site.")
        parser.add_argument("--as-of", type=_day, metavar="DATE", help="Books as of the end of this day (YYYY-MM-DD).")
        parser.add_argument("--out", type=Path, metavar="FOLDER", help="Write one reorder workbook for each supplier.")
        parser.add_argument("--json", action="store_true", help="Print JSON for machines; see docs/reconcile.md.")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Reconcile, print, and write the workbooks that were asked for."""
        site = _site(options["site"])
        reconciliation = reconcile(site, options["as_of"], seconds_per_cable=SECONDS_PER_CABLE)
        past = reconciliation.as_of < site.today()
        cautions = [str(each) for each in below_zero_on(site, reconciliation.as_of)] if past else []
        if options["json"]:
            self.stdout.write(json.dumps({**as_json(reconciliation), "cautions": cautions}, indent=2))
        else:
            for caution in cautions:
                self.stderr.write(f"Look again, the books of that day cannot be so: {caution}")
            width = get_terminal_size(fallback=(100, 24)).columns
            for line in as_text(reconciliation, name=site.name, unit=site.unit, width=width):
                self.stdout.write(line)
        if options["out"] is not None:
            # Beside --json the paths must not mix with what a machine reads.
            told = self.stderr if options["json"] else self.stdout
            for path in write_workbooks(reconciliation, site, options["out"]):
                told.write(f"wrote {path}")


def _site(slug: str) -> Site:
    site = Site.objects.filter(slug=slug).first()
    if site is None:
        known = ", ".join(Site.objects.order_by("slug").values_list("slug", flat=True)) or "none yet"
        raise CommandError(f"There is no site {slug!r}; sites: {known}.")
    return site


def _day(text: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise CommandError(f"--as-of {text!r} is no date; expected YYYY-MM-DD such as 2026-05-04.") from error
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise CommandError(f"--as-of {text} is no day of any books; expected a year from {FIRST_YEAR} to {LAST_YEAR}.")
    return day

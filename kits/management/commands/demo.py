"""`manage.py demo`: a whole site to look at, from an empty database to a page in the browser."""

from __future__ import annotations

import re
from argparse import ArgumentParser
from pathlib import Path
from shutil import get_terminal_size
from threading import Thread
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse
from django_tasks_db.management.commands.db_worker import Worker

from config.secret import VAR
from kits.demo.services import DemoPerson, DemoSheetsError, OtherSiteError, fill, make_people, plan_cables
from kits.reorders.workbook import write_workbooks
from kits.shortages.queries import reconcile
from kits.shortages.told.as_text import as_text
from takeoff.sheets.preview import LoadResult

FOLDER = VAR / "demo"
_ADDRESS = re.compile(r"(?P<host>[A-Za-z0-9.-]+|\[[0-9a-fA-F:]+\]):(?P<port>\d{1,5})")


class Command(BaseCommand):
    """Fills the configured database, plans cuts, shows what is short, writes the workbooks, serves the web app."""

    help = "Fill the configured database with the demo site, show its shortages, and serve the web app."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add where to serve, and whether."""
        parser.add_argument("--no-serve", action="store_true", help="stop before serving")
        parser.add_argument("--address", default="127.0.0.1:8000", metavar="HOST:PORT", help="where to serve")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Fill, plan, reconcile, write the workbooks, then serve until interrupted."""
        address = options["address"]
        match = _ADDRESS.fullmatch(address)
        if not match or not 0 < int(match["port"]) < 65536:
            raise CommandError(f"--address {address!r} is no address; expected HOST:PORT such as 127.0.0.1:8000.")
        if not options["no_serve"] and not settings.DEBUG:
            raise CommandError("The demo serves with DEBUG on only. Unset DEBUG, or use --no-serve.")
        call_command("migrate", verbosity=0, interactive=False)
        folder = Path(FOLDER)
        try:
            site, result = fill(folder=folder / "sheets")
        except OtherSiteError as error:
            raise CommandError(str(error)) from error
        except DemoSheetsError as error:
            raise CommandError("The demo's sheets did not load:\n" + "\n".join(map(str, error.problems))) from error
        self._tell_load(site.name, result, folder / "sheets")
        people = make_people(site=site)
        if result is not None:
            plans = plan_cables(site=site)
            complete = sum(not plan.unmet for plan in plans)
            self.stdout.write(f"Planned the cuts of {len(plans)} cables; there is enough here of {complete}.")
        reconciliation = reconcile(site)
        self.stdout.write("")
        width = get_terminal_size(fallback=(120, 24)).columns
        for line in as_text(reconciliation, name=site.name, unit=site.unit, width=width, brief=True):
            self.stdout.write(line)
        self.stdout.write("\nReorder workbooks:")
        for path in write_workbooks(reconciliation, site, folder / "reorders"):
            self.stdout.write(f"  {path}")
        self._tell_people(people)
        self.stdout.write(self.style.SUCCESS(f"\nFirst page: http://{address}{reverse('home')}"))
        if not options["no_serve"]:
            self._serve(address)

    def _tell_load(self, name: str, result: LoadResult | None, folder: Path) -> None:
        if result is None:
            self.stdout.write(f"{name} is in the database already: nothing was loaded again.")
            return
        rows = sum(table.rows for table in result.tables)
        self.stdout.write(f"Loaded {name}: {rows} rows of {len(result.tables)} sheets, kept in {folder}.")
        for caution in result.cautions:
            self.stdout.write(f"  Look again: {caution}")

    def _tell_people(self, people: list[DemoPerson]) -> None:
        renewed = any(person.renewed for person in people)
        self.stdout.write(f"\nSign in as (passwords {'renewed, the earlier ones end' if renewed else 'just made'}):")
        for person in people:
            self.stdout.write(f"  {person.name:<12} {person.password}")

    def _serve(self, address: str) -> None:
        """Serve until interrupted; background work is done by a thread of the same process."""
        Thread(target=_background_worker().run, name="tasks", daemon=True).start()
        call_command("runserver", address, use_reloader=False)


def _background_worker() -> Worker:
    """Return what takes background work off the database's queue, without a terminal's signals."""
    return Worker(
        queue_names=["default"],
        interval=1,
        batch=False,
        backend_name="default",
        startup_delay=False,
        max_tasks=None,
        worker_id="demo",
        excluded_queue_names=[],
    )

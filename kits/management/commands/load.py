"""Load sheets into a site."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from takeoff.sheets.files.sources import SourceError, read_path
from takeoff.sheets.preview import STATES, LoadResult, TableOutcome
from takeoff.sheets.services import load_sheets

TO_CONFIRM = 3  # what the command ends with when a person has to look first
LINES = 40  # of one kind that are printed; `--json` has all


class Command(BaseCommand):
    """Takes a workbook, a CSV or a folder of CSVs; everything in it is loaded, or nothing."""

    help = "Load a workbook (.xlsx), a CSV or a folder of CSVs into a site: everything in it, or nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        """Add the path, the site, and how to answer."""
        parser.add_argument("path", type=Path, help="a workbook, a CSV whose stem is a table, or a folder of CSVs")
        parser.add_argument("--site", required=True, metavar="SLUG", help="the site; a table `site` creates a new one")
        parser.add_argument("--dry-run", action="store_true", help="check everything, keep nothing")
        parser.add_argument("--confirm", action="store_true", help="load although descriptions hold unlikely values")
        parser.add_argument("--json", action="store_true", help="print the result for a machine (docs/sheets.md)")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Load, print what came of it, and fail when there are problems or something is to be confirmed."""
        slug, as_json = options["site"], options["json"]
        try:
            sheets = read_path(options["path"])
        except SourceError as error:
            if as_json:
                self.stdout.write(json.dumps({**LoadResult(slug, options["dry_run"]).as_json(), "error": str(error)}))
                raise SystemExit(1) from error
            raise CommandError(str(error)) from error
        quiet = as_json or options["verbosity"] < 1 or not self.stderr.isatty()
        result = load_sheets(
            sheets=sheets,
            slug=slug,
            dry_run=options["dry_run"],
            confirmed=options["confirm"],
            progress=(lambda _done, _total: None) if quiet else self._show,
        )
        if not quiet:
            self.stderr.write("\r" + " " * 40 + "\r", ending="")
        if as_json:
            self.stdout.write(json.dumps({**result.as_json(), "error": None}, ensure_ascii=False))
        else:
            self._report(result)
        if result.problems:
            raise SystemExit(1)
        if not result.loaded and not result.dry_run:
            raise SystemExit(TO_CONFIRM)

    def _show(self, done: int, total: int) -> None:
        self.stderr.write(f"\r{100 * done // max(total, 1):3d} %", ending="")

    def _report(self, result: LoadResult) -> None:
        for caution in result.cautions:
            self.stderr.write(self.style.WARNING(f"Look again: {caution}"))
        for problem in result.problems:
            self.stderr.write(self.style.ERROR(str(problem)))
        if result.problems:
            count = len(result.problems)
            self.stderr.write(self.style.ERROR(f"{count} problem{'s' if count > 1 else ''}. Nothing was loaded."))
            return
        for table in result.tables:
            counts = ", ".join(f"{table.counts[state]} {state}" for state in STATES if table.counts[state])
            self.stdout.write(f"{table.name}: {counts or 'no rows'}")
            self._lines(_changes(table))
        self._lines(_effects(result))
        if result.dry_run:
            self.stdout.write(self.style.SUCCESS("Nothing was kept: this was a dry run."))
        elif result.loaded:
            self.stdout.write(self.style.SUCCESS(f"Loaded into {result.site}."))
        else:
            count = len(result.asked)
            what = f"{count} cell{'s' if count > 1 else ''} to look at again"
            self.stderr.write(self.style.ERROR(f"{what}. Nothing was loaded: add --confirm when they are meant so."))

    def _lines(self, lines: Iterable[str]) -> None:
        """Print lines below what they belong to, only the first of many."""
        listed = list(lines)
        for line in listed[:LINES]:
            self.stdout.write(f"  {line}")
        if len(listed) > LINES:
            self.stdout.write(f"  and {len(listed) - LINES} more: --json has all")


def _changes(table: TableOutcome) -> Iterator[str]:
    """Return what changes and goes; of what is new the count says enough."""
    for change in table.changes:
        if change.state != "new":
            yield f"{change.state} {change.key}{': ' if change.details else ''}{'; '.join(change.details)}"


def _effects(result: LoadResult) -> Iterator[str]:
    """Return what follows: cut lengths, plans and orders, quantities of runs."""
    for run, lengths in result.effects.lengths.items():
        for names, before, after in lengths:
            yield f"{run}, cut length of {names}: {before} → {after}"
    yield from result.effects.touched
    for run, lines in result.effects.moved.items():
        for item, stage, before, after in lines:
            yield f"{run}, {item}, {stage}: {before} → {after}"

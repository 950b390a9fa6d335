"""Write the empty tables that `load` takes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from takeoff.records.kind_words import describe_kinds
from takeoff.sheets.files.blank import empty_workbook
from takeoff.sheets.files.column_words import describe
from takeoff.sheets.registry import tables


class Command(BaseCommand):
    """Writes a workbook to fill in, or prints what its tables and columns are."""

    help = "Write a workbook of empty tables to fill in, with the allowed words as drop-downs."

    def add_arguments(self, parser: CommandParser) -> None:
        """Add where to, and which table."""
        parser.add_argument("path", type=Path, nargs="?", default=Path("sheets.xlsx"), help="the .xlsx to write")
        parser.add_argument("--table", action="append", metavar="NAME", help="only this table; may be given again")
        parser.add_argument("--unit", choices=("ft", "m"), default="ft", help="what defaults and examples are told in")
        parser.add_argument("--describe", action="store_true", help="print the tables as in docs/sheets.md instead")

        parser.add_argument("--kinds", action="store_true", help="print the kinds of record as in docs/records.md")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Write the workbook, never over a file that exists."""
        if options["kinds"]:
            self.stdout.write(describe_kinds(), ending="")
            return
        known = {table.name: table for table in tables()}
        names = options["table"] or list(known)
        if unknown := [name for name in names if name not in known]:
            raise CommandError(f"{unknown[0]!r} is no table; expected one of {', '.join(known)}")
        chosen = [known[name] for name in names]
        if options["describe"]:
            self.stdout.write("\n".join(describe(table) for table in chosen), ending="")
            return
        path: Path = options["path"]
        try:
            with path.open("xb") as file:
                file.write(empty_workbook(chosen, options["unit"]))
        except OSError as error:
            raise CommandError(f"{path} cannot be written: {error.strerror}") from error
        if options["verbosity"] >= 1:
            self.stdout.write(self.style.SUCCESS(f"{len(chosen)} empty tables in {path}"))

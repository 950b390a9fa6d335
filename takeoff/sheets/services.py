"""
Loading sheets: everything of a load, or nothing.

The command and the web page both call `load_sheets`. The whole load is one transaction: tables are read and applied in
their order, every problem is gathered, and one problem (or a dry run) rolls all of it back.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace

from django.db import transaction
from django.utils import timezone

from takeoff.database.locks import in_turn, lock, rehearsal, take_turns_at_loading
from takeoff.people.models import User
from takeoff.sheets import registry
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Reading, Reference, one_of, plain_word
from takeoff.sheets.cells.problems import Caution, CellProblem
from takeoff.sheets.context import LoadContext, Progress
from takeoff.sheets.files.sources import Sheet
from takeoff.sheets.preview import LoadResult, TableOutcome
from takeoff.sheets.resolving import look_alike_names, resolve
from takeoff.sheets.row_reading import ReadTable, read_table, reading_here, repeated
from takeoff.sheets.table_kinds import DescriptionTable, EventTable, Row, Table
from takeoff.sheets.uninterrupted import uninterrupted
from takeoff.sheets.wall_times import look_at_clocks
from takeoff.sites.models import Site
from takeoff.units.country import habit_of

SITE_TABLE = "site"
SHOWN = 8  # row numbers that a message lists


def load_sheets(
    *,
    sheets: Sequence[Sheet],
    slug: str,
    user: User | None = None,
    dry_run: bool = False,
    confirmed: bool = False,
    progress: Progress = lambda _done, _total: None,
) -> LoadResult:
    """
    Load sheets into the site `slug` and return what is new, changed, removed and unchanged, with every problem.

    A sheet `site` creates the site when it is new. `progress` hears how many of how many steps are done. Nothing is
    kept when there is a problem, with `dry_run`, or when something is to be confirmed and nobody has `confirmed` it.
    """
    with uninterrupted():
        load = _Load(sheets=sheets, slug=slug, user=user, progress=progress, dry_run=dry_run)
        kept = in_turn(lambda: load.run(confirmed=confirmed), before=load.read_ahead)
    return LoadResult(
        site=slug,
        dry_run=dry_run,
        loaded=kept,
        tables=list(load.context.outcomes.values()),
        problems=load.context.problems,
        cautions=load.context.cautions,
        effects=load.context.effects,
    )


@dataclass(slots=True)
class _Load:
    """One load while it runs."""

    sheets: Sequence[Sheet]
    slug: str
    user: User | None
    progress: Progress
    dry_run: bool = False
    context: LoadContext = field(init=False)
    done: int = 0
    ahead: dict[str, tuple[Reading, ReadTable]] = field(default_factory=dict)

    def read_ahead(self) -> None:
        """Read the cells before anything waits for this load; on SQLite a transaction keeps everybody out."""
        self.done, self.ahead = 0, {}
        site = self._site()
        self.context = LoadContext(site=site, user=self.user, now=timezone.now(), reading=reading_here(site))
        tables = self._tables()
        self.context.problems.clear()  # they are noted again with the rest
        if SITE_TABLE in tables:
            return  # it says how all others are read
        for table, sheet in tables.values():
            self.ahead[table.name] = self.context.reading, self._read_cells(table, sheet, self.context.reading)

    def run(self, *, confirmed: bool) -> bool:
        """Apply every table in the caller's transaction; roll it back unless it is to be kept, and return which."""
        self._apply()
        self.context.settle_cautions()
        asked = not confirmed and any(caution.asks for caution in self.context.cautions)
        kept = not self.context.problems and not self.dry_run and not asked
        if not kept:
            transaction.set_rollback(True)
        return kept

    def _apply(self) -> None:
        """Apply every table, and note every problem."""
        take_turns_at_loading(self.context.site if self.context.site.pk else None)
        site = self._site()
        self.context = LoadContext(
            site=site,
            user=self.user,
            now=self.context.now,
            reading=reading_here(site),
            dry_run=self.dry_run,
        )
        tables = self._tables()
        self._lock(tables)
        events: list[EventTable] = []
        if site._state.adding and (SITE_TABLE not in tables or not tables[SITE_TABLE][1].rows):
            self._refuse("", self.slug, "the slug of a site that exists, or a table site with a row that creates it")
        event_rows: list[Row] = []
        for table, sheet in tables.values():
            self.context.outcomes.setdefault(table.name, TableOutcome(table.name)).rows = len(sheet.rows)
            rows = self._read(table, sheet)
            if isinstance(table, EventTable):
                events.append(table)
                event_rows += self._kept_first(table, self._resolved(table, rows))
            else:
                assert isinstance(table, DescriptionTable)
                self._describe(table, rows)
            self._step(len(sheet.rows))
        if not self.context.problems:
            if self.context.reports:
                registry.event_door()(self.context, self.context.reports, follows=False)
            self._follow()
        if events and not self.context.site._state.adding:
            self.context.event_rows = event_rows
            with rehearsal(self.dry_run):
                registry.event_door()(self.context, event_rows)
            if not self.context.problems:
                self._follow(after_events=True)

    def _kept_first(self, table: EventTable, rows: list[Row]) -> list[Row]:
        """Keep at once what makes things that the rows after it name; return what is left to keep."""
        if not table.founds or self.context.site._state.adding:
            return rows
        with rehearsal(self.dry_run):
            registry.event_door()(self.context, rows)
        self.context.forget(table.founds)
        return []

    def _site(self) -> Site:
        return Site.objects.filter(slug=self.slug).first() or Site(slug=self.slug)

    def _lock(self, tables: Mapping[str, tuple[Table, Sheet]]) -> None:
        """
        Lock what descriptions change and events move, in the house's order, before the first row is written.

        A load of events alone locks later, when all of it is read and resolved; a dry run locks neither.
        """
        if self.context.site._state.adding or all(isinstance(table, EventTable) for table, _ in tables.values()):
            return
        lock(Site.objects.filter(pk=self.context.site.pk))
        if self.dry_run:
            return
        for kind, lock_named in registry.locks().items():
            names: set[str] = set()
            for table, _ in tables.values():
                columns = [column.name for column in table.columns if _names(table, column, kind)]
                rows = self.ahead[table.name][1].good if table.name in self.ahead else ()
                names |= {row.values[column] for row in rows for column in columns} - {None, ""}
            if names:
                lock_named(self.context.site, names)

    def _read_cells(self, table: Table, sheet: Sheet, reading: Reading) -> ReadTable:
        start = self.done
        read = read_table(table, sheet, reading, lambda rows: self._tell(start + rows))
        self.done = start + len(sheet.rows)
        self._tell(self.done)
        return read

    def _tables(self) -> dict[str, tuple[Table, Sheet]]:
        """Return the tables that the sheets hold, in the order in which they are applied."""
        known = {plain_word(table.name): table for table in registry.tables()}
        found: dict[str, tuple[Table, Sheet]] = {}
        for sheet in self.sheets:
            if not sheet.header and not sheet.rows:
                continue
            table = known.get(plain_word(sheet.name))
            if table is None:
                names = [each.name for each in registry.tables()]
                self._refuse(sheet.name, sheet.name, f"the name of a table: {one_of(names, sheet.name)}")
            elif table.name in found:
                self._refuse(sheet.name, sheet.name, f"the table {table.name} once")
            else:
                found[table.name] = table, sheet
        if not found and not self.context.problems:
            self._refuse("", "", "a table: a sheet that is neither hidden nor empty")
        return {table.name: found[table.name] for table in registry.tables() if table.name in found}

    def _read(self, table: Table, sheet: Sheet) -> list[Row]:
        """Return the rows that are good by themselves, and note every problem."""
        reading = reading_here(self.context.site)
        if table.name == SITE_TABLE:
            reading = _reading_of_site_sheet(sheet, reading)
        self.context.reading = reading
        before, read = self.ahead.get(table.name, (None, None))
        if read is None or before != reading:
            read = self._read_cells(table, sheet, reading)
        self.context.problems += read.problems
        if hidden := sheet.hidden.intersection(number for number, _ in sheet.rows):
            rows = ", ".join(map(str, sorted(hidden)[:SHOWN])) + (" …" if len(hidden) > SHOWN else "")
            self.context.cautions.append(
                Caution(
                    table.name,
                    None,
                    "",
                    f"{'row' if len(hidden) == 1 else 'rows'} {rows}",
                    "hidden in the file, and read like the others",
                    asks=isinstance(table, DescriptionTable),
                )
            )
        again = repeated(read.good)
        for row, first in again:
            expected = f"a row of its own: row {first.number} has the same {' and '.join(table.key)}"
            self.context.problem(row, table.key[-1], found=" ".join(row.key), expected=expected)
        twice = {id(row) for row, _first in again}
        good = [row for row in read.good if id(row) not in twice]
        look_at_clocks(self.context, table, good)
        self._withhold(table, read.bad)
        if table.name != SITE_TABLE and not self.context.site._state.adding:
            resolve(self.context, table, read.bad)  # for what else is wrong with them
        return _whole_sets(table, good, read.bad)

    def _resolved(self, table: Table, rows: list[Row]) -> list[Row]:
        """Return the rows with the things that they name in place of the names."""
        if isinstance(table, EventTable):
            for row in rows:
                row.said = dict(row.values)
        if self.context.site._state.adding:
            return []
        good, bad = resolve(self.context, table, rows)
        self._withhold(table, bad)
        return _whole_sets(table, good, bad)

    def _describe(self, table: DescriptionTable, rows: list[Row]) -> None:
        """Let a description table save its rows."""
        if table.name != SITE_TABLE:
            rows = self._resolved(table, rows)
        if rows:
            self.context.rows[table.name] = rows
            look_alike_names(self.context, table, rows)
            table.save(self.context, rows)

    def _follow(self, *, after_events: bool = False) -> None:
        """Do what follows from the descriptions, or from the events."""
        touched = {name for name, outcome in self.context.outcomes.items() if outcome.touched}
        for follower in registry.followers(touched, after_events=after_events):
            follower.follow(self.context)

    def _withhold(self, table: Table, rows: Iterable[Row]) -> None:
        for kind, column in table.names.items():
            for row in rows:
                if row.values[column]:
                    self.context.withhold(kind, str(row.values[column]))

    def _refuse(self, sheet: str, found: str, expected: str) -> None:
        self.context.problems.append(CellProblem(sheet, None, "", found, expected))

    def _step(self, rows: int) -> None:
        self.done += rows
        self._tell(self.done)

    def _tell(self, done: int) -> None:
        self.progress(done, 2 * sum(len(sheet.rows) for sheet in self.sheets))


def _names(table: Table, column: Column, kind: str) -> bool:
    """Return whether a column names things of a kind that the table brings into being or moves."""
    if isinstance(table, EventTable):
        return isinstance(column.kind, Reference) and column.kind.to == kind
    return table.names.get(kind) == column.name


def _whole_sets(table: Table, good: list[Row], bad: list[Row]) -> list[Row]:
    """Leave out the sets that lack a bad row: without it, something would seem to be removed."""
    if not isinstance(table, DescriptionTable) or not table.replaces or not bad:
        return good
    broken = {str(row.values[table.replaces]) for row in bad}
    return [row for row in good if str(row.values[table.replaces]) not in broken]


def _reading_of_site_sheet(sheet: Sheet, reading: Reading) -> Reading:
    """Return how the sheet `site` is read: in the unit and by the country that the sheet itself names."""
    said = {
        plain_word(heading): cell.strip()
        for heading, cell in zip(sheet.header, sheet.rows[0][1] if sheet.rows else (), strict=False)
        if isinstance(heading, str) and isinstance(cell, str)
    }
    unit = plain_word(said.get("unit", ""))
    if unit in Site.Unit.values:
        reading = replace(reading, unit=unit)
    with suppress(ValueError):  # told where the cell is read
        reading = replace(reading, habit=habit_of(said["country"].upper()) if "country" in said else reading.habit)
    return reading

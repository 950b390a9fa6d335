"""What a table's hook knows and says while a load runs."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from django.db.models import Model

from takeoff.sheets.cells.kinds import Reading
from takeoff.sheets.cells.problems import Caution, CellProblem, show_cell
from takeoff.sheets.preview import Effects, State, TableOutcome
from takeoff.sheets.registry import event_table, reference
from takeoff.sheets.table_kinds import DescriptionTable, Row, plain_text

if TYPE_CHECKING:
    from takeoff.people.models import User
    from takeoff.sites.models import Site

Progress = Callable[[int, int], None]


@dataclass(slots=True)
class LoadContext:
    """The site that is loaded, who loads it, what its things are called, and what has been said so far."""

    site: Site
    user: User | None
    now: datetime
    reading: Reading
    progress: Progress = lambda _done, _total: None
    dry_run: bool = False
    narrow: bool = False  # for a few rows: things are looked up by the names that they use, not all of the site
    outcomes: dict[str, TableOutcome] = field(default_factory=dict)
    problems: list[CellProblem] = field(default_factory=list)
    cautions: list[Caution] = field(default_factory=list)
    effects: Effects = field(default_factory=Effects)
    rows: dict[str, Sequence[Row]] = field(default_factory=dict)  # what each description table was given
    event_rows: Sequence[Row] = ()
    reports: list[Row] = field(default_factory=list)  # events that description tables tell
    _known: dict[str, dict[str, Any]] = field(default_factory=dict)
    _asked: dict[str, set[str]] = field(default_factory=dict)
    _withheld: dict[str, set[str]] = field(default_factory=dict)

    def lookup(self, kind: str, names: Collection[str] = ()) -> Mapping[str, Any]:
        """
        Return every thing of a kind by its name: those of the site, read once, and those of this load.

        A narrow context looks for `names` only, and returns those that it has looked for so far.
        """
        if not self.narrow:
            if kind not in self._known:
                self._known[kind] = dict(reference(kind)(self.site, None))
            return self._known[kind]
        known, asked = self._known.setdefault(kind, {}), self._asked.setdefault(kind, set())
        if new := set(names) - asked:
            asked |= new
            known |= reference(kind)(self.site, sorted(new))
        return known

    def remember(self, kind: str, name: str, thing: Any) -> None:
        """Add what a hook has created and saved, so that later rows can name it."""
        self.lookup(kind)
        self._known[kind][name] = thing

    def forget(self, kind: str) -> None:
        """Read the things of a kind anew: a record has made some."""
        self._known.pop(kind, None)

    def withhold(self, kind: str, name: str) -> None:
        """Note a name whose own row is bad: rows that use it are left out without a second problem."""
        self._withheld.setdefault(kind, set()).add(name)

    def is_withheld(self, kind: str, name: str) -> bool:
        """Return whether the row that brings the name into being is bad."""
        return name in self._withheld.get(kind, ())

    def problem(self, row: Row, column: str, *, expected: str, found: str | None = None) -> None:
        """Refuse a cell; `found` is the cell itself where it is not given."""
        shown = show_cell(row.raw.get(column)) if found is None else found
        self.problems.append(CellProblem(row.table.name, row.number, column, shown, expected))

    def caution(self, row: Row, column: str, text: str, *, found: str | None = None, about: str = "") -> None:
        """
        Ask for a second look at a cell; `about` names the run where it is about all of that, not about its row alone.

        A person confirms what descriptions are asked about; events happened, so that theirs are told only.
        """
        shown = show_cell(row.raw.get(column)) if found is None else found
        asks = isinstance(row.table, DescriptionTable)
        self.cautions.append(Caution(row.table.name, row.number, column, shown, text, asks, " ".join(row.key), about))

    def doubt(self, found: str, text: str) -> None:
        """Ask for a second look at what follows from the load as a whole."""
        self.cautions.append(Caution("", None, "", found, text))

    def settle_cautions(self) -> None:
        """Ask about nothing that changes nothing: the same file loaded again was confirmed when it was new."""
        touched = {(name, change.key) for name, outcome in self.outcomes.items() for change in outcome.changes}
        names = {part for _, key in touched for part in (key, key.partition(" ")[0])}

        def changes(caution: Caution) -> bool:
            if caution.about:
                return caution.about in names or any(name.startswith(f"{caution.about} ") for name in names)
            if caution.key:
                return (caution.sheet, caution.key) in touched
            return not caution.sheet or self.outcomes[caution.sheet].touched

        self.cautions = [each if changes(each) else replace(each, asks=False) for each in self.cautions]

    def report(self, row: Row, kind: str, **said: Any) -> None:
        """Have an event kept that a row of a description tells, as a record like any other, once all rows are in."""
        table = event_table(kind)
        values = {column.name: column.default for column in table.columns}
        values |= {"id": str(uuid4()), "at": self.now, **said}
        names = {name: plain_text(value) if isinstance(value, Model) else value for name, value in values.items()}
        self.reports.append(Row(table, row.number, values, frozenset(said), said=names))
        self.outcomes.setdefault(kind, TableOutcome(kind))

    def count(self, table: str, state: State, key: str, details: tuple[str, ...] = ()) -> None:
        """Count one record of a table as new, changed, removed or unchanged."""
        self.outcomes[table].count(state, key, details)

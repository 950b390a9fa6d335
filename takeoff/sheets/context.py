"""What a table's hook knows and says while a load runs."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

from takeoff.sheets.cells.kinds import Reading
from takeoff.sheets.cells.problems import Caution, CellProblem, show_cell
from takeoff.sheets.preview import State, TableOutcome
from takeoff.sheets.registry import reference

if TYPE_CHECKING:
    from takeoff.people.models import User
    from takeoff.sheets.tables import Row
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
    narrow: bool = False  # for a few rows: things are looked up by the names that they use, not all of the site
    outcomes: dict[str, TableOutcome] = field(default_factory=dict)
    problems: list[CellProblem] = field(default_factory=list)
    cautions: list[Caution] = field(default_factory=list)
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

    def caution(self, row: Row, column: str, text: str) -> None:
        """Ask for a second look at a cell."""
        self.cautions.append(Caution(row.table.name, row.number, column, show_cell(row.raw.get(column)), text))

    def count(self, table: str, state: State, key: str, details: tuple[str, ...] = ()) -> None:
        """Count one record of a table as new, changed, removed or unchanged."""
        self.outcomes[table].count(state, key, details)

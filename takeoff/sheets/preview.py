"""What a load does, or would do. Pure: no Django."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from takeoff.sheets.cells.problems import Caution, CellProblem

State = Literal["new", "changed", "removed", "unchanged"]
STATES: tuple[State, ...] = ("new", "changed", "removed", "unchanged")


@dataclass(frozen=True, slots=True)
class RowChange:
    """One record that is new, changed or removed, with what changes on it: `tiers: 2 → 3`."""

    state: State
    key: str
    details: tuple[str, ...] = ()


@dataclass(slots=True)
class TableOutcome:
    """What happens to the records of one table."""

    name: str
    rows: int = 0
    counts: dict[State, int] = field(default_factory=lambda: dict.fromkeys(STATES, 0))
    changes: list[RowChange] = field(default_factory=list)

    def count(self, state: State, key: str, details: tuple[str, ...] = ()) -> None:
        """Count one record."""
        self.counts[state] += 1
        if state != "unchanged":
            self.changes.append(RowChange(state, key, details))

    @property
    def touched(self) -> bool:
        """Whether anything is new, changed or removed."""
        return bool(self.changes)


@dataclass(slots=True)
class Effects:
    """
    What follows from a load, or would.

    moved : by run, the takeoff lines that change: item, stage, before, after. lengths : by run, the cut lengths that
    change: conductors, before, after, as the site writes lengths. touched : sentences on plans and orders.
    """

    moved: dict[str, list[tuple[str, str, str, str]]] = field(default_factory=dict)
    lengths: dict[str, list[tuple[str, str, str]]] = field(default_factory=dict)
    touched: list[str] = field(default_factory=list)


@dataclass(slots=True)
class LoadResult:
    """
    What a load did.

    `loaded` is true when it was kept: no problem, no dry run, and nothing left to confirm. With problems nothing was
    kept, and the counts cover the rows without a problem.
    """

    site: str
    dry_run: bool
    loaded: bool = False
    tables: list[TableOutcome] = field(default_factory=list)
    problems: list[CellProblem] = field(default_factory=list)
    cautions: list[Caution] = field(default_factory=list)
    effects: Effects = field(default_factory=Effects)

    @property
    def asked(self) -> list[Caution]:
        """The cautions that a person has to confirm."""
        return [caution for caution in self.cautions if caution.asks]

    def as_json(self) -> dict[str, Any]:
        """Return the result with stable keys, as `load --json` prints it (documented in docs/sheets.md)."""
        return {
            "site": self.site,
            "dry_run": self.dry_run,
            "loaded": self.loaded,
            "tables": {table.name: {"rows": table.rows, **table.counts} for table in self.tables},
            "problems": [
                {"sheet": p.sheet, "row": p.row, "column": p.column, "found": p.found, "expected": p.expected}
                for p in self.problems
            ],
            "cautions": [
                {
                    "sheet": c.sheet,
                    "row": c.row,
                    "column": c.column,
                    "found": c.found,
                    "text": c.text,
                    "confirm": c.asks,
                }
                for c in self.cautions
            ],
            **asdict(self.effects),
        }

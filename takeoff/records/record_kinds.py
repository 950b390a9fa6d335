"""
How to declare a kind of record.

A kind is one class in `<room>/records.py` of the floor that owns it, registered once. From it come the table of
`manage.py load`, the page's form, the decoding of what a phone sends, the hash and `docs/records.md`:

    class ReturnsKind(StoreKind):
        name = "returns"
        order = 240
        rank = 4
        help = "What came back from a stage of a run."
        permission = HAND_OUT
        correction = "take it back and report anew under another id"
        columns = (ID, Column("item", Reference(to="item"), "The item.", required=True), ..., AT)

    register_kind(ReturnsKind())

Columns `id` and `at` are required. `subject(row)` names the thing whose next record is a reason to try again what was
set aside. `keeper` is the ledger that keeps the kind; kinds of one ledger share one.

**A keeper** gets records in the order in which they happened (`Filing`, with things in place of names) and keeps each
or says why not, in a number of queries that does not grow with them: a refusal goes to `filing.error` (a RecordError),
what a person should look at to `filing.look`, where the kind says `may_need_a_look`. `prepare` writes what of a load
can be written before anybody must wait for its locks; `lock` takes the ledger's locks for all records first; `keep`
with `again` takes records that were aside before and checks the end only; `follow` brings up to date what hangs on
them.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any, ClassVar

from takeoff.people.permissions import Permission
from takeoff.records.terms.errors import RecordError
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Moment, Text
from takeoff.sheets.registry import register
from takeoff.sheets.table_kinds import EventTable, Row

if TYPE_CHECKING:
    from takeoff.people.models import User
    from takeoff.records.models import Record, SetAside
    from takeoff.sites.models import Site

ID = Column("id", Text(80), "The record's own id; the same id is kept once.", required=True, example="E-0001")
AT = Column("at", Moment(), "When it happened.", required=True)
BY = Column("by", Text(120), "Who did it.", default="", default_help="not said")


class RecordKind(EventTable):
    """A kind of thing that people report as having happened. `rank` orders what has the same moment."""

    rank: ClassVar[int]
    permission: ClassVar[Permission]
    keeper: ClassVar[Keeper]
    # What to do instead of changing a row that was kept, as the end of a sentence.
    correction: ClassVar[str] = "take it back and report anew under another id"

    # Columns that only those read who may see prices.
    prices: ClassVar[frozenset[str]] = frozenset()

    # Whether keeping one may leave something for a person to look at: then it is stored only once that is known.
    may_need_a_look: ClassVar[bool] = False
    # Whether placing one that was set aside is of the moment in which somebody decides so, after what came since.
    placed_now: ClassVar[bool] = False
    # What a page says was done, before what it was done to.
    did: ClassVar[str] = "Kept"

    # The column at which a sheet tells what a person should look at.
    looked_at: ClassVar[str] = "id"

    @abstractmethod
    def subject(self, said: Mapping[str, Any]) -> str:
        """Return what the record is about, such as `item LUG`, from its cells with names in place of things."""

    def told(self, said: Mapping[str, Any]) -> str:
        """Return in words what a page has done with a row."""
        return f"{self.did}: {self.subject(said)}"

    def brings(self, said: Mapping[str, Any]) -> tuple[str, ...]:
        """Return what the record brings into being that others may lack, such as `bin shelf 4`."""
        return ()

    def keeper_of(self, filing: Filing) -> Keeper:
        """Return the ledger that keeps a record of this kind."""
        return self.keeper


@dataclass(slots=True, eq=False)
class Filing:
    """
    One record on its way into the books.

    row : its cells, with things in place of names once they are known; `at` corrected. record : as it will be stored.
    aside : where it was set aside before. reverses : the record that a reversal takes back; settled : which waited
    aside and is dropped by it. prepared : what its ledger has made ready of it. unready : no ledger could take it: a
    name is unknown, or its sender may not.
    """

    kind: RecordKind
    row: Row
    record: Record
    sender: User | None = None
    reverses: Record | None = None
    aside: SetAside | None = None
    settled: bool = False
    unready: bool = False
    prepared: Any = None
    error: RecordError | None = None
    look: list[str] = field(default_factory=list)

    @property
    def id(self) -> str:
        """The record's own id."""
        return self.record.event_id

    @property
    def at(self) -> datetime:
        """When it happened, corrected."""
        return self.record.at

    @property
    def hash(self) -> str:
        """The hash of its row."""
        return self.record.row_hash

    def __getitem__(self, column: str) -> Any:
        return self.row.values[column]


class Keeper(ABC):
    """One ledger. Keepers work one after the other, in the order of `order`."""

    order: ClassVar[int]
    # Who takes its locks with its own, where both lock rows of the same sort: all at once, and so by key.
    locked_by: ClassVar[Keeper | None] = None

    @abstractmethod
    def lock(self, site: Site, filings: Sequence[Filing]) -> None:
        """Take the locks under which these records are kept, in the house's order."""

    def prepare(self, site: Site, filings: Sequence[Filing]) -> None:  # noqa: B027  # most have nothing
        """Write, before the locks are taken, what needs none of records that are kept or else taken back with all."""

    @abstractmethod
    def keep(self, site: Site, filings: Sequence[Filing], *, again: bool = False) -> None:
        """Keep each record or put its refusal on it. again : they were aside; check the end only."""

    def follow(self, site: Site, filings: Sequence[Filing]) -> None:  # noqa: B027  # most ledgers stand by themselves
        """Bring up to date what follows from records that were kept."""


def by_kind(filings: Iterable[Filing]) -> dict[Any, list[Filing]]:
    """Return the records of a ledger by kind, those that take something back left out."""
    found: dict[Any, list[Filing]] = {}
    for filing in filings:
        if filing.reverses is None:
            found.setdefault(filing.kind, []).append(filing)
    return found


def taking_back(filings: Iterable[Filing]) -> dict[Any, list[Filing]]:
    """Return the records of a ledger that take something back, by the kind of that."""
    found: dict[Any, list[Filing]] = {}
    for filing in filings:
        if filing.reverses is not None:
            found.setdefault(kinds()[filing.reverses.kind], []).append(filing)
    return found


_kinds: dict[str, RecordKind] = {}


def register_kind(kind: RecordKind) -> None:
    """Add a kind of record, and with it its table of `load`."""
    register(kind)
    _kinds[kind.name] = kind


def kinds() -> dict[str, RecordKind]:
    """Return every kind of record by its name."""
    return _kinds


def keepers() -> list[Keeper]:
    """Return every ledger that keeps records, in the order in which they work."""
    found = {id(kind.keeper): kind.keeper for kind in _kinds.values() if hasattr(kind, "keeper")}
    return sorted(found.values(), key=lambda keeper: keeper.order)

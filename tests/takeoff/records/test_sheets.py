"""What sheets tell as having happened is kept once, in the order in which it happened, and never changed."""

from copy import deepcopy
from datetime import timedelta

import pytest

from takeoff.people.permissions import SEE
from takeoff.records import record_kinds
from takeoff.records.record_kinds import Keeper, RecordKind, register_kind
from takeoff.records.terms.errors import RecordError
from takeoff.sheets import registry
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Moment, Number, Reference, Text
from takeoff.sheets.table_kinds import EventTable
from takeoff.sites.models import Site
from tests.takeoff.sheets.books import CATALOGUE, SITE, load, told

pytestmark = pytest.mark.django_db

COLUMNS = (
    Column("id", Text(80), "Its id.", required=True),
    Column("item", Reference(to="item"), "The item.", required=True),
    Column("quantity", Number(above=True), "How many.", required=True),
    Column("at", Moment(), "When.", required=True),
    Column("note", Text(100), "A note.", default=""),
)
HEADER = ["id", "item", "quantity", "at"]


class Book(Keeper):
    """A ledger in memory: what was kept, in order."""

    order = 1

    def __init__(self):
        self.posted = []
        self.refuse = set()

    def lock(self, site, filings):
        """Nothing to lock."""

    def keep(self, site, filings, *, again=False):
        for filing in filings:
            if filing.id in self.refuse:
                expected = "no more than lies there"
                filing.error = RecordError("Too much.", column="quantity", found="5", expected=expected)
            else:
                self.posted.append((filing.kind.name, filing.id))


@pytest.fixture
def book(monkeypatch):
    """Two kinds of one ledger, arrivals before departures, in place of all others."""
    ledger = Book()

    class Event(RecordKind):
        columns = COLUMNS
        correction = "reverse it and record it anew"
        keeper = ledger
        permission = SEE

        def subject(self, said):
            return f"item {said['item']}"

    class Departures(Event):
        name, order, rank, help = "departures", 910, 4, "Out."

    class Arrivals(Event):
        name, order, rank, help = "arrivals", 920, 1, "In."

    plain = {table.name: table for table in registry.tables() if not isinstance(table, EventTable)}
    monkeypatch.setattr(registry, "_tables", plain)
    monkeypatch.setattr(record_kinds, "_kinds", {})
    register_kind(Departures())
    register_kind(Arrivals())
    load({**SITE, **CATALOGUE})
    return ledger


def events(**tables):
    return {name: [HEADER, *rows] for name, rows in tables.items()}


def test_events_are_kept_in_the_order_in_which_they_happened(book):
    result = load(
        events(
            departures=[
                ["d2", "SEAL", 1, "2026-03-02 07:00"],
                ["d1", "SEAL", 1, "2026-03-01 09:00"],
                ["d0", "SEAL", 1, "2026-03-01 08:00"],
            ],
            arrivals=[
                ["a2", "SEAL", 5, "2026-03-02 15:00"],
                ["a1", "SEAL", 5, "2026-03-01 23:30"],
                ["a3", "SEAL", 5, "2026-03-03"],
                ["a4", "SEAL", 5, "2026-03-01 08:00"],
            ],
        )
    )

    assert result.loaded
    assert [each for _table, each in book.posted] == ["a4", "d0", "d1", "a1", "d2", "a2", "a3"]
    assert {table.name: table.counts["new"] for table in result.tables} == {"departures": 3, "arrivals": 4}


def test_the_same_event_is_posted_once_however_it_is_written(book):
    load(events(arrivals=[["a1", "SEAL", 5, "2026-03-01"]]))

    again = load({"arrivals": [["At", "Quantity", "ID", "item", "note"], ["2026-03-01", "5.00", "a1", "SEAL", None]]})

    assert again.tables[0].counts == {"new": 0, "changed": 0, "removed": 0, "unchanged": 1}
    assert len(book.posted) == 1


def test_other_content_under_a_posted_id_is_refused_and_names_the_correction(book):
    load(events(arrivals=[["a1", "SEAL", 5, "2026-03-01"]]))

    result = load(events(arrivals=[["a1", "SEAL", 6, "2026-03-01"], ["a2", "SEAL", 1, "2026-03-01"]]))

    assert told(result) == [
        "arrivals, row 2, column id: found a1, expected what was reported under this id, unchanged; to correct it, "
        "reverse it and record it anew"
    ]
    assert len(book.posted) == 1


def test_an_id_stands_for_one_event_over_all_tables_of_a_ledger(book):
    result = load(
        events(departures=[["x", "SEAL", 1, "2026-03-02"]], arrivals=[["x", "SEAL", 1, "2026-03-01"]]),
    )

    assert told(result) == [
        "arrivals, row 2, column id: found x, expected an id of its own: departures, row 2 has it too"
    ]
    assert book.posted == []


def test_nothing_is_posted_while_a_description_or_another_event_is_bad(book):
    tables = events(arrivals=[["a1", "SEAL", 5, "2026-03-01"], ["a2", "NONE", -1, "2026-03-01"]])
    result = load({**tables, "suppliers": [["supplier", "email"], ["X", "no address"]]})

    assert [(each.sheet, each.row, each.column) for each in result.problems] == [
        ("suppliers", 2, "email"),
        ("arrivals", 3, "quantity"),
        ("arrivals", 3, "item"),
    ]
    assert book.posted == []


def test_what_the_ledger_refuses_is_told_by_row_and_keeps_nothing(book):
    book.refuse = {"a1"}

    result = load(events(arrivals=[["a1", "SEAL", 5, "2026-03-01"], ["a2", "SEAL", 5, "2026-03-01"]]))

    assert told(result) == ["arrivals, row 2, column quantity: found 5, expected no more than lies there"]
    assert not result.loaded


def test_an_event_can_name_what_the_same_load_creates(book):
    new = deepcopy(CATALOGUE["items"][:1])
    new.append(["NEW", "New", "each", 1, None, None])

    assert load({"items": new, **events(arrivals=[["a1", "NEW", 5, "2026-03-01"]])}).loaded


def test_a_table_says_what_its_sort_needs():
    class Nameless(EventTable):
        name, order, help = "nameless", 1, ""
        columns = (Column("id", Text(), "Its id.", required=True),)

    with pytest.raises(ValueError, match="nameless needs a column at"):
        registry.register(Nameless())


def test_an_event_of_a_day_that_has_not_come_is_a_caution(book):
    today = Site.objects.get(slug="north").today()
    days = [today, today + timedelta(days=1)]
    result = load(events(arrivals=[[f"A-{day}", "BLK-M", 1, day] for day in days]))
    assert result.loaded
    (caution,) = result.cautions
    assert (caution.row, caution.column) == (3, "at")
    assert caution.text == "is after today: what has not happened yet counts from that day"

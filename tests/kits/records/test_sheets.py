"""The tables of what happened in the store."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kits.audit.proofs import rebuilt_balances, uneven_items
from kits.models import Balance, Move, Posting, Receipt
from takeoff.models import Place, Record, Site
from tests.kits.makers import at, reverse
from tests.kits.sheets import load, site_with, told

pytestmark = pytest.mark.django_db

RECEIPTS = ["id", "shipment", "item", "counted", "at"]
ISSUES = ["id", "item", "quantity", "run", "stage", "at"]
RETURNS = ISSUES
COUNTS = ["id", "item", "bin", "counted", "at"]


@pytest.fixture(autouse=True)
def site():
    assert told(site_with()) == []
    return Site.objects.get()


def stock() -> dict:
    rows = Balance.objects.of(Site.objects.get()).select_related("place", "item").exclude(quantity=0)
    return {
        f"{row.item.code} {row.place.kind} {row.place.name}{f' [{row.lot}]' if row.lot else ''}": row.quantity
        for row in rows
    }


def test_what_has_only_a_day_happens_in_the_order_receipts_counts_issues_returns():
    """The return stands first in the sheets, and needs all of what the others bring; what has a time is of its time."""
    result = load(
        {
            "returns": [RETURNS, ["b1", "LUG", 2, "NORTH", "seals", "2026-03-02"]],
            "issues": [
                ISSUES,
                ["i1", "LUG", 5, "NORTH", "seals", "2026-03-02"],
                ["i2", "LUG", 50, "NORTH", "cables", "2026-03-03 07:00"],
            ],
            "counts": [[*COUNTS, "by"], ["c1", "LUG", "Store", 48, "2026-03-02", "Sam"]],
            "receipts": [
                [*RECEIPTS, "again"],
                ["r1", "S1", "LUG", 60, "2026-03-02", None],
                ["r2", "S1", "LUG", 1, "2026-03-03 18:00", "further"],
            ],
        }
    )
    assert told(result) == []
    moves = Move.objects.order_by("pk").select_related("posting")
    assert list(dict.fromkeys(move.posting.event_id for move in moves)) == ["r1", "c1", "i1", "b1", "i2", "r2"]
    assert stock() == {
        "LUG supplier Bus works": -61,
        "LUG handed_out NORTH cables": 50,
        "LUG lost_found Lost and found": 2,
        "LUG handed_out NORTH seals": 3,
        "LUG bin Store": 6,
    }


def test_one_load_reports_and_takes_back():
    result = load(
        {
            "receipts": [RECEIPTS, ["r1", "S1", "LUG", 60, "2026-03-02"]],
            "issues": [ISSUES, ["i1", "LUG", 5, "NORTH", "seals", "2026-03-03"]],
            "reversals": [["id", "reverses", "reason", "at"], ["x1", "i1", "typed twice", "2026-03-04"]],
        }
    )
    assert told(result) == []
    assert stock() == {"LUG supplier Bus works": -60, "LUG kit_box K1": 10, "LUG bin Store": 50}


def test_what_a_load_leaves_to_look_at_is_stored_with_its_record():
    """Other records of the load are stored before; this one waits until it is known what there is to look at."""
    found = ["c1", "LUG", "A", 3, "2026-03-02", "L1"], ["c2", "LUG", "B", 1, "2026-03-03", None]
    result = load(
        {
            "counts": [[*COUNTS, "lot"], *found],
            "issues": [ISSUES, ["i1", "LUG", 1, "NORTH", "seals", "2026-03-04"]],
        }
    )
    (caution,) = result.cautions
    records = {record.event_id: (record.answer, record.said) for record in Record.objects.of(Site.objects.get())}
    assert records == {"c1": ("kept", []), "c2": ("look", [caution.text]), "i1": ("kept", [])}


def test_the_same_file_twice_changes_nothing(site):
    tables = {
        "receipts": [RECEIPTS, ["r1", "S1", "LUG", 60, "2026-03-02"]],
        "counts": [COUNTS, ["c1", "LUG", "A", 1, "2026-03-02"]],
    }
    load(tables)
    before = stock()
    result = load(tables)
    assert [table.counts["unchanged"] for table in result.tables] == [1, 1]
    assert stock() == before
    assert Receipt.objects.of(site).count() == 1


def test_other_content_under_a_posted_id_is_refused_and_names_the_correction():
    load({"counts": [COUNTS, ["c1", "LUG", "A", 1, "2026-03-02"]]})
    assert told(load({"counts": [COUNTS, ["c1", "LUG", "A", 2, "2026-03-02"]]})) == [
        "counts, row 2, column id: found c1, expected what was reported under this id, unchanged; to correct "
        "it, take it back and report anew under another id"
    ]
    assert stock()["LUG bin A"] == 1


def test_an_id_belongs_to_one_event_whatever_its_table():
    load({"counts": [COUNTS, ["x", "LUG", "A", 1, "2026-03-02"]]})
    (problem,) = told(load({"issues": [ISSUES, ["x", "LUG", 1, "NORTH", "seals", "2026-03-03"]]}))
    assert problem.startswith("issues, row 2, column id: found x, expected what was reported under this id")


def test_more_than_is_there_is_refused_with_what_is_there_and_everything_else_too():
    tables = {
        "counts": [COUNTS, ["c1", "LUG", "A", 3, "2026-03-02"]],
        "issues": [
            ISSUES,
            ["i1", "LUG", 2, "NORTH", "seals", "2026-03-03"],
            ["i2", "LUG", 2, "NORTH", "seals", "2026-03-04"],
        ],
    }
    assert told(load(tables)) == [
        "issues, row 3, column quantity: found 2 each, expected at most 1 each: 1 there (1 in A)"
    ]
    assert stock() == {}
    assert not Posting.objects.exists()
    assert not Record.objects.exists()


def test_an_unknown_bin_is_refused_where_only_a_known_one_will_do():
    load({"counts": [COUNTS, ["c1", "LUG", "A", 3, "2026-03-02"]]})
    result = load({"issues": [[*ISSUES, "bin"], ["i1", "LUG", 2, "NORTH", "seals", "2026-03-03", "B"]]})
    assert told(result) == [
        "issues, row 2, column bin: found B, expected a bin that a receipt, return or count has made"
    ]
    assert set(Place.objects.filter(kind="bin").values_list("name", flat=True)) == {"A"}


GOOD_ROWS = {
    "receipts": {"id": "r", "shipment": "S1", "item": "LUG", "counted": 1, "at": "2026-03-02"},
    "issues": {"id": "i", "item": "LUG", "quantity": 1, "run": "NORTH", "stage": "seals", "at": "2026-03-02"},
    "returns": {"id": "b", "item": "LUG", "quantity": 1, "run": "NORTH", "stage": "seals", "at": "2026-03-02"},
    "counts": {"id": "c", "item": "LUG", "bin": "A", "counted": 1, "at": "2026-03-02"},
}


@pytest.mark.parametrize(
    ("table", "cell", "expected"),
    [
        ("receipts", {"shipment": "S9"}, "the name of a shipment"),
        ("receipts", {"counted": -1}, "a number"),
        ("receipts", {"package": "crate 9"}, "a package of S1: one of crate 1, crate 2"),
        ("receipts", {"condition": "wet"}, "one of good, not opened, damaged, wrong item"),
        ("receipts", {"came_item": "NUT"}, "the name of an item: one of LUG"),
        ("receipts", {"made": "2026-13-01"}, "a date"),
        ("issues", {"quantity": 0}, "a number with at most four decimal places, above 0"),
        ("issues", {"run": "WEST"}, "the name of a run"),
        ("issues", {"stage": "lunch"}, "one of enclosure, cables, seals"),
        ("issues", {"lender": "NORTH"}, "another run, or nothing"),
        ("issues", {"bin": "A"}, "a bin that a receipt, return or count has made"),
        ("returns", {"condition": "lost"}, "one of good, damaged, spoiled"),
        ("counts", {"bin": None}, "a value: The bin"),
        ("counts", {"counted": "0.00001"}, "a number with at most four decimal places"),
        ("counts", {"at": "soon"}, "a date"),
    ],
    ids=str,
)
def test_a_bad_cell_is_told_with_its_column_what_was_found_and_what_was_expected(table, cell, expected):
    row = {**GOOD_ROWS[table], **cell}
    (column, found), *_ = cell.items()
    (problem,) = told(load({table: [[*row], [*row.values()]]}))
    start = f"{table}, row 2, column {column}: found {'nothing' if found is None else found}, expected "
    assert problem.startswith(start)
    assert expected in problem


def test_a_wrong_item_must_say_what_came():
    row = {**GOOD_ROWS["receipts"], "condition": "wrong item"}
    assert told(load({"receipts": [[*row], [*row.values()]]})) == [
        "receipts, row 2, column came_item: found nothing, "
        "expected the item that came, when the condition is wrong item"
    ]


def test_no_more_comes_back_than_was_handed_out():
    row = GOOD_ROWS["returns"]
    assert told(load({"returns": [[*row], [*row.values()]]})) == [
        "returns, row 2, column quantity: found 1 each, expected at most 0 each: 0 there"
    ]


def test_all_bad_rows_are_told_at_once():
    result = load(
        {
            "counts": [COUNTS, ["c1", "LUG", "A", 1, "2026-03-02"]],
            "returns": [RETURNS, ["b1", "LUG", 1, "NORTH", "seals", "2026-03-02"]],
            "issues": [
                [*ISSUES, "bin"],
                ["i1", "LUG", 1, "NORTH", "seals", "2026-03-02", "B"],
                ["i2", "LUG", 5, "NORTH", "seals", "2026-03-02", None],
            ],
        }
    )
    assert sorted((problem.sheet, problem.row, problem.column) for problem in result.problems) == [
        ("issues", 2, "bin"),
        ("issues", 3, "quantity"),
        ("returns", 2, "quantity"),
    ]


def test_a_refused_grade_is_held_with_a_caution():
    result = load({"receipts": [[*RECEIPTS, "grade"], ["r1", "S2", "SEAL", 24, "2025-03-02", "clear silicone"]]})
    assert result.loaded
    assert stock() == {"SEAL supplier Seal house": -24, "SEAL quarantine Quarantine, refused": 24}
    assert str(result.cautions[0]) == (
        "receipts, row 2, column item: SEAL - clear silicone came, and silicone is refused for SEAL: "
        "it goes on hold, never to stock."
    )


def test_a_substitute_covers_by_contents_and_lots_expire_by_the_day_made():
    header = [*RECEIPTS, "condition", "came_item", "lot", "made"]
    row = ["r1", "S2", "SEAL", 3, "2026-03-02", "wrong item", "BR-28", "7A", "2026-01-01"]
    assert load({"receipts": [header, row]}).loaded
    assert stock()["SEAL bin Store [BR-28 7A]"] == 3


def test_crates_fill_the_kits_box_and_the_store():
    header = [*RECEIPTS, "package", "part"]
    rows = [
        ["r1", "S1", "LUG", 10, "2026-03-02", "crate 1", None],
        ["r2", "S1", "LUG", 20, "2026-03-02", "crate 2", "yes"],
    ]
    assert load({"receipts": [header, *rows]}).loaded
    assert stock() == {"LUG supplier Bus works": -30, "LUG kit_box K1": 10, "LUG bin Store": 20}


def test_a_bin_by_the_name_of_a_kit_is_the_kits_box():
    load({"counts": [COUNTS, ["c1", "LUG", "k1", 3, "2026-03-02"]]})
    assert stock()["LUG kit_box K1"] == 3


def test_an_event_that_was_reversed_is_still_known_by_its_id(site):
    tables = {"counts": [COUNTS, ["c1", "LUG", "A", 3, "2026-03-02"]]}
    load(tables)
    reverse(site=site, event_id="x", posting=Posting.objects.get(), at=at(4), reason="wrong bin")
    assert load(tables).tables[0].counts["unchanged"] == 1
    assert stock() == {}


def test_a_blank_row_of_an_expired_lot_is_skipped_for_one_that_serves():
    counts = [
        [*COUNTS, "lot", "expires"],
        ["c1", "SEAL", "A", 3, "2026-03-01", "OLD", "2026-03-02"],
        ["c2", "SEAL", "A", 3, "2026-03-01", "NEW", "2026-09-01"],
    ]
    issues = [
        ISSUES,
        ["i1", "SEAL", 1, "NORTH", "seals", "2026-03-02"],
        ["i2", "SEAL", 1, "NORTH", "seals", "2026-03-03"],
    ]
    assert told(load({"counts": counts, "issues": issues})) == []
    assert (stock()["SEAL bin A [OLD]"], stock()["SEAL bin A [NEW]"]) == (2, 2)


def many(amount: int) -> dict:
    days = [f"2026-03-{1 + number % 20:02d}" for number in range(amount)]
    return {
        "receipts": [
            [*RECEIPTS, "again"],
            *([f"r{amount} {n}", "S1", "LUG", 9, day, "further"] for n, day in enumerate(days)),
        ],
        "counts": [
            COUNTS,
            *([f"c{amount} {n}", "LUG", f"Shelf {amount} {n % 7}", 9, day] for n, day in enumerate(days)),
        ],
        "issues": [ISSUES, *([f"i{amount} {n}", "LUG", 1, "NORTH", "seals", day] for n, day in enumerate(days))],
        "returns": [RETURNS, *([f"b{amount} {n}", "LUG", 1, "NORTH", "seals", "2026-03-30"] for n in range(amount))],
    }


def test_four_times_the_rows_take_hardly_more_queries(site):
    load(many(1))
    counts = []
    for amount in (10, 40):
        with CaptureQueriesContext(connection) as queries:
            assert told(load(many(amount))) == []
        counts.append(len(queries))
    # A statement for every so many parameters is the database's own limit.
    assert counts[1] <= counts[0] + 12, counts
    assert uneven_items(site) == []
    assert rebuilt_balances(site) == []

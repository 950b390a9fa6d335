"""Sheets of one history that are loaded apart, in any order, leave the books of one load, or say which rows cannot."""

from itertools import permutations
from random import Random

import pytest

from kits.audit.proofs import prove_site
from tests.kits.histories import as_sheets, history, store
from tests.races.test_histories import books
from tests.takeoff.sheets.books import load, told

pytestmark = pytest.mark.django_db


def load_apart(parts: list[list], slug: str) -> list[str]:
    """
    Load records part by part until all are in; return what was said of rows that had to wait.

    Parts of which each waits for another are loaded together, as whoever reads those words would.
    """
    said, left = [], list(parts)
    while left:
        late = []
        for part in left:
            if problems := told(load(as_sheets(part), slug=slug)):
                said += problems
                late.append(part)
        left = [[each for part in late for each in part]] if len(late) == len(left) > 1 else late
    return said


@pytest.mark.parametrize("seed", [1, 2])
def test_counts_loaded_apart_from_moves_leave_the_books_of_one_load(seed):
    records = history(120, seed)
    whole = store("whole")
    assert told(load(as_sheets(records), slug="whole")) == []
    counts = [each for each in records if each[0] == "counts"]
    moves = [each for each in records if each[0] != "counts"]
    for number, parts in enumerate(permutations([counts, moves])):
        apart = store(f"apart-{number}")
        said = load_apart(list(parts), apart.slug)
        assert all("row" in each for each in said)
        assert books(apart) == books(whole)
        assert all(proof.holds for proof in prove_site(apart))


@pytest.mark.parametrize("seed", [3, 4])
def test_any_split_of_the_sheets_leaves_the_books_of_one_load(seed):
    records, random = history(120, seed), Random(seed)
    whole = store("whole")
    assert told(load(as_sheets(records), slug="whole")) == []
    shares: list[list] = [[], [], []]
    for record in records:
        random.choice(shares).append(record)
    apart = store("apart")
    said = load_apart(shares, apart.slug)
    assert all("row" in each for each in said)
    assert books(apart) == books(whole)


@pytest.mark.parametrize("counts_first", [True, False])
def test_counts_and_moves_of_days_alone_write_off_what_one_load_does(counts_first):
    """Washers: 400 came, 60 were missing when they were counted, on a day on which some were handed out, too."""
    moves = [
        ("receipts", {"id": "r", "item": "I0", "shipment": "S1", "counted": "400", "bin": "A", "at": "2026-03-02"}),
        (
            "issues",
            {"id": "i", "item": "I0", "quantity": "100", "run": "R0", "stage": "seals", "bin": "A", "at": "2026-03-03"},
        ),
        (
            "issues",
            {"id": "j", "item": "I0", "quantity": "68", "run": "R1", "stage": "seals", "bin": "A", "at": "2026-03-04"},
        ),
    ]
    counts = [("counts", {"id": "c", "item": "I0", "bin": "A", "counted": "240", "at": "2026-03-04"})]
    whole, apart = store("whole"), store("apart")
    assert told(load(as_sheets([*moves, *counts]), slug="whole")) == []
    said = load_apart([counts, moves] if counts_first else [moves, counts], apart.slug)
    assert said == []
    assert books(apart) == books(whole)
    assert books(whole)["lost_found", "Lost and found", "I0", ""] == 60

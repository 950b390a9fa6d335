"""In which order rows stand in sheets does not matter, nor whether they come one by one."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from kits.audit.proofs import rebuilt_balances, uneven_items
from kits.models import Balance, Move
from takeoff.models import Site
from tests.kits.sheets import BASE, load, told

HEADERS = {
    "receipts": ["id", "shipment", "item", "counted", "at", "lot", "expires", "again"],
    "counts": ["id", "item", "bin", "counted", "at"],
    "issues": ["id", "item", "quantity", "run", "stage", "at", "lender"],
    "returns": ["id", "item", "quantity", "run", "stage", "at"],
}
RANKS = list(HEADERS)
START = date(2026, 3, 1)


@st.composite
def histories(draw) -> list[tuple[str, list]]:
    """Events as (table, row), each at a time of its own; receipts come plentiful and first, so that all is there."""
    amount = draw(st.integers(1, 6))
    events: list[tuple[str, list]] = []
    for number in range(amount):
        table = draw(st.sampled_from(RANKS))
        moment = f"{START + timedelta(draw(st.integers(2, 5)))} {8 + number:02d}:00"
        quantity, lot = draw(st.integers(1, 3)), draw(st.sampled_from(["L", "M", None]))
        row = {
            "receipts": [f"e{number}", "S1", "LUG", quantity, moment, lot, lot and "2026-12-31", "further"],
            "returns": [f"e{number}", "LUG", quantity, "NORTH", "seals", moment],
            "counts": [f"e{number}", "LUG", draw(st.sampled_from(["Store", "A"])), 50 + quantity, moment],
            "issues": [f"e{number}", "LUG", quantity, "NORTH", "seals", moment, draw(st.sampled_from(["SOUTH", None]))],
        }[table]
        events.append((table, row))
    stock = ("receipts", ["first", "S1", "LUG", 90, f"{START} 08:00", None, None, None])
    handed = ("issues", ["second", "LUG", 30, "NORTH", "seals", f"{START} 09:00", None])
    return [stock, handed, *events]


def tables(events) -> dict:
    found = {table: [header] for table, header in HEADERS.items()}
    for table, row in events:
        found[table].append(row)
    return {table: rows for table, rows in found.items() if len(rows) > 1}


def books(slug: str) -> tuple[set, set]:
    site = Site.objects.get(slug=slug)
    assert not uneven_items(site)
    assert not rebuilt_balances(site)
    balances = Balance.objects.of(site).exclude(quantity=0)
    moves = Move.objects.of(site)
    return (
        set(balances.values_list("place__kind", "place__name", "item__code", "lot", "quantity")),
        set(moves.values_list("posting__event_id", "source__name", "target__name", "lot", "quantity")),
    )


def when(event) -> tuple:
    table, row = event
    moment = row[4] if table in ("receipts", "counts") else row[5]
    return moment, RANKS.index(table)


class AnyOrder(TestCase):
    # Each example loads a dozen files: shrinking one takes minutes.
    @settings(
        max_examples=6,
        deadline=None,
        phases=[Phase.explicit, Phase.reuse, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(histories(), st.randoms(use_true_random=False))
    def test_shuffled_rows_and_rows_one_by_one_leave_the_same_books(self, events, random):
        shuffled = list(events)
        random.shuffle(shuffled)
        for slug in ("straight", "shuffled", "single"):
            assert told(load(BASE, slug=slug)) == []
        assert told(load(tables(events), slug="straight")) == []
        assert told(load(tables(shuffled), slug="shuffled")) == []
        for event in sorted(events, key=when):
            assert told(load(tables([event]), slug="single")) == []
        assert books("straight") == books("shuffled") == books("single")


@pytest.mark.django_db
def test_a_later_file_with_earlier_dates_is_checked_against_the_books_as_they_are():
    load(BASE)
    load(tables([("receipts", ["r", "S1", "LUG", 5, "2026-03-02", None, None, None])]))
    load(tables([("issues", ["i", "LUG", 5, "NORTH", "seals", "2026-03-05", None])]))
    (problem,) = told(load(tables([("issues", ["j", "LUG", 1, "NORTH", "seals", "2026-03-03", None])])))
    assert problem.startswith("issues, row 2, column quantity: found 1 each, expected at most 0 each: 0 there")

"""What pages call a place."""

import pytest

from takeoff.models import Place

Kind = Place.Kind


@pytest.mark.parametrize(
    ("kind", "name", "told"),
    [
        (Kind.QUARANTINE, "Quarantine", "On hold"),
        (Kind.QUARANTINE, "Quarantine, wrong item", "On hold, wrong item"),
        (Kind.SPOILED, "CB-01 seals", "CB-01 seals, spoiled"),
        (Kind.BIN, "Shelf 1, left", "Shelf 1, left"),
    ],
)
def test_goods_that_wait_for_a_decision_are_on_hold_and_every_place_is_told_apart(kind, name, told):
    assert Place(kind=kind, name=name).told == told

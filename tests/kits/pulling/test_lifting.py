"""What a reel weighs, for lifting and for a forklift."""

from decimal import Decimal

import pytest

from kits.pulling.lifting import for_a_forklift, for_lifting
from reels.drum.reel_weights import ReelWeights

FT, M = 3_048_000, 10_000_000


def reel(**more):
    said = {"gross": None, "tare": None, "unit": "lb", "cable": None, "cable_unit": "lb/kft", "left": 500 * FT}
    return ReelWeights(**{**said, **more})


def test_for_lifting_stands_the_whole_gross_whatever_was_cut():
    """The next whole figure: a reel of 4120.2 lb is not 4120."""
    assert for_lifting(reel(gross=Decimal("4120.2"), tare=Decimal(400), cable=Decimal(100))).startswith(
        "not more than 4\u202f121 lb"
    )
    assert for_lifting(reel(tare=Decimal(400), cable=Decimal(2000))) == "weight not known: weigh it"


@pytest.mark.parametrize(
    ("known", "told"),
    [
        # 400 + 500 ft of 2000 lb/kft = 1400, and a tenth.
        ({"tare": Decimal(400), "cable": Decimal(2000)}, "1\u202f540 lb"),
        # 100 kg + 200 m of 2500 kg/km = 600 kg, and a tenth.
        (
            {"tare": Decimal(100), "unit": "kg", "cable": Decimal(2500), "cable_unit": "kg/km", "left": 200 * M},
            "660 kg",
        ),
        # 500 kg are 1102.31 lb: 1502.31 lb, and a tenth, up.
        ({"tare": Decimal(400), "cable": Decimal(2500), "cable_unit": "kg/km", "left": 200 * M}, "1\u202f653 lb"),
        ({"gross": Decimal(1541), "tare": Decimal(400), "cable": Decimal(2000)}, "1\u202f540 lb"),
        ({"gross": Decimal(1540), "tare": Decimal(400), "cable": Decimal(2000)}, ""),
        ({"cable": Decimal(2000)}, ""),
        ({"tare": Decimal(400)}, ""),
    ],
)
def test_a_forklift_is_chosen_by_what_is_left_and_a_tenth(known, told):
    assert for_a_forklift(reel(**known)) == told

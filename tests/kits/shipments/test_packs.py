"""What a packing list counts in."""

from decimal import Decimal

import pytest

from kits.shipments.packs import PackError, pieces_per_pack


def pieces(unit="", per_pack=None, item_unit="each", pack=100, per_box=25):
    return pieces_per_pack(
        unit=unit,
        per_pack=per_pack and Decimal(per_pack),
        item_unit=item_unit,
        pack=Decimal(pack),
        per_box=per_box and Decimal(per_box),
    )


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        pytest.param({}, 1, id="nothing said"),
        pytest.param({"unit": "Each"}, 1, id="the item's unit"),
        pytest.param({"unit": "boxes"}, 25, id="boxes of the item"),
        pytest.param({"unit": "pack"}, 100, id="packs of the item"),
        pytest.param({"per_pack": 40}, 40, id="so many a pack"),
        pytest.param({"unit": "box", "per_pack": 40}, 40, id="the list knows its boxes better"),
        pytest.param({"unit": "drum", "per_pack": 7}, 7, id="whatever it is called"),
        pytest.param({"unit": "each", "per_pack": 1}, 1, id="one each"),
    ],
)
def test_pieces(asked, found):
    assert pieces(**asked) == found


@pytest.mark.parametrize(
    ("asked", "column", "expected"),
    [
        ({"unit": "box", "per_box": None}, "unit", "per_pack, or an item that says how many come in a box (per_box)"),
        ({"unit": "drum"}, "unit", "each, box or pack, or per_pack with how many it holds"),
        ({"unit": "each", "per_pack": 25}, "per_pack", "none, or 1, when the list counts in each"),
    ],
    ids=["boxes of nobody knows how many", "an unknown unit", "pieces of 25 pieces"],
)
def test_what_cannot_be_counted_is_refused(asked, column, expected):
    with pytest.raises(PackError) as caught:
        pieces(**asked)
    assert (caught.value.column, caught.value.expected) == (column, expected)

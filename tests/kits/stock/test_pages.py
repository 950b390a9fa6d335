"""Stock pages show every place that stock is in, told apart; what was used in time is not called expired."""

from datetime import date
from decimal import Decimal

import pytest

from kits.stock.forms import KINDS
from kits.stock.pages import lying_at, moves_of, place_list, stock_list
from kits.stock.tables import MoveTable, StockTable
from tests.kits.makers import given_back
from tests.kits.shortages.scene import Scene, at

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    """Ten of a lot that is past its day now: four handed out, one of them spoiled there."""
    scene = Scene()
    item, run = scene.item("SEAL"), scene.run()
    scene.receive(scene.ship(item, 10, "S-1"), 10, lot="a", expires=date(2026, 5, 20))
    scene.hand_out(item, 4, run, "seals", lot="a")
    given_back(item, 1, run, at=at(4), condition="spoiled", lot="a")
    return scene


def test_where_an_item_lies_adds_up_and_tells_what_was_spoiled(scene):
    lying = lying_at(scene.site, item=scene.site.items.get())
    assert sum(one.quantity for one in lying) == 10
    assert {one.place.told: (one.quantity, one.expired) for one in lying if one.place.kind != "bin"} == {
        "CB-1 seals": (3, False),
        "CB-1 seals, spoiled": (1, False),
    }
    assert [one.expired for one in lying if one.place.kind == "bin"] == [True]


def test_what_is_here_is_told_before_what_was_handed_out_and_expired_goods_are_not_usable(scene):
    lying = lying_at(scene.site, item=scene.site.items.get())
    assert [one.place.kind for one in lying] == ["bin", "handed_out", "spoiled"]
    scene.receive(scene.ship(scene.site.items.get(), 4, "S-2"), 4, lot="b", expires=date(2199, 1, 1))
    item = stock_list(scene.site).get()
    assert (item.usable, item.expired, item.held, item.handed_out) == (4, 6, None, 3)


def test_stock_is_told_in_whole_packages_never_more_than_there_are(scene):
    item = scene.item("TUBE", unit="cartridge")
    scene.receive(scene.ship(item, Decimal("2.9"), "S-3"), Decimal("2.9"))
    table = StockTable(stock_list(scene.site).filter(code="TUBE"), site=scene.site)
    assert [row.get_cell("usable") for row in table.rows] == ["2 cartridges"]


def test_a_move_to_the_other_place_of_a_stage_says_so(scene):
    table = MoveTable(moves_of(scene.site, scene.site.items.get()), site=scene.site)
    told = [(row.get_cell("source"), row.get_cell("target")) for row in table.rows]
    assert ("CB-1 seals", "CB-1 seals, spoiled") in told


def test_every_kind_that_can_be_asked_for_is_listed(scene):
    kinds = {place.kind for place in place_list(scene.site)}
    assert {"handed_out", "spoiled"} <= kinds <= {kind for kind, _ in KINDS}

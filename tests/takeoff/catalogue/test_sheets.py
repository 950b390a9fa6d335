"""What is believed of use is told by class or by item; old words are refused with the new ones."""

from decimal import Decimal

import pytest

from takeoff.models import Item, Site, UsagePrior
from tests.takeoff.sheets.books import CATALOGUE, SITE, load, told

pytestmark = pytest.mark.django_db

HEAD = ["usage", "item", "rate", "rate_worth", "spread", "spread_worth"]
ITEMS = {
    "items": [
        ["item", "description", "unit", "usage"],
        ["SEAL", "Sealant", "cartridge", "bead"],
        ["BOLT", "Bolt", "each", "fixed"],
    ]
}


def priors(*rows):
    return {**SITE, **ITEMS, "usage_priors": [HEAD, *rows]}


def kept():
    rows = UsagePrior.objects.order_by("usage", "item__code")
    return [(str(row), row.rate, row.rate_worth, row.spread, row.spread_worth) for row in rows]


def test_a_class_and_an_item_are_told_and_changed_by_their_key():
    first = load(priors(["wiped", None, 1.15, 3, "20%", 6], [None, "SEAL", "1.4", "0.5", "30%", 2]))
    assert first.loaded, told(first)
    assert kept() == [
        ("SEAL", Decimal("1.4"), Decimal("0.5"), Decimal("0.3"), 2),
        ("wiped", Decimal("1.15"), Decimal(3), Decimal("0.2"), 6),
    ]

    again = load(priors(["wiped", None, 1.25, 3, "20%", 6], [None, "SEAL", "1.4", "0.5", "30%", 2]))
    counts = next(table.counts for table in again.tables if table.name == "usage_priors")
    assert (counts["changed"], counts["unchanged"]) == (1, 1)
    assert kept()[1][1] == Decimal("1.25")


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        (["wiped", "SEAL", 1, 1, "5%", 1], "column item: found SEAL, expected a class or an item in a row, not both"),
        ([None, None, 1, 1, "5%", 1], "column usage: found nothing, expected one of counted, wiped, bead, or an item"),
        (
            [None, "BOLT", 1, 1, "5%", 1],
            "column item: found BOLT, expected an item whose usage is one of counted, wiped, bead",
        ),
    ],
)
def test_a_prior_is_of_a_class_or_of_an_item_that_is_learned(row, problem):
    assert told(load(priors(row))) == [f"usage_priors, row 2, {problem}"]


@pytest.mark.parametrize("row", [[0, 1, "5%", 1], [1, 0, "5%", 1], [1, 1, "0%", 1], [1, 1, "5%", 0]])
def test_nothing_in_a_prior_is_nothing(row):
    assert not load(priors(["bead", None, *row])).loaded
    assert kept() == []


def test_the_old_word_for_learned_use_is_refused_with_the_new_ones():
    tables = {**SITE, "items": [["item", "description", "unit", "usage"], ["SEAL", "Sealant", "cartridge", "varies"]]}

    assert told(load(tables)) == [
        "items, row 2, column usage: found varies, expected one of fixed, counted, wiped, bead"
    ]
    assert not Item.objects.exists()


def test_the_old_setting_is_refused_with_the_table_that_stands_in_its_place():
    tables = {"site": [["name", "Prior stages"], ["North yard", 2]]}

    assert told(load(tables)) == [
        "site, row 1, column Prior stages: found Prior stages, expected no such column: how much the drawing is worth "
        "as evidence is told in table usage_priors"
    ]
    assert not Site.objects.exists()


def test_a_catalogue_without_priors_needs_none():
    assert load({**SITE, **CATALOGUE}).loaded
    assert kept() == []

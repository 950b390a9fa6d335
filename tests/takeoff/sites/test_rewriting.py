"""Many rows are written at once."""

from decimal import Decimal

import pytest

from takeoff.models import Item, Site
from takeoff.sites.rewriting import rewrite

pytestmark = pytest.mark.django_db


@pytest.fixture
def items():
    site = Site.objects.create(slug="here", name="Here")
    return Item.objects.bulk_create(Item(site=site, code=f"I{number}", description="was") for number in range(300))


def test_named_fields_are_written_and_no_others(items, django_assert_max_num_queries):
    site = items[0].site
    for item in items:
        item.description, item.pack, item.group = "is", Decimal("2.5"), "not written"

    with django_assert_max_num_queries(10):
        rewrite(Item.objects.of(site), items, {"pack", "description"})

    kept = Item.objects.of(site).order_by("pk")
    assert {(item.description, item.pack, item.group) for item in kept} == {("is", Decimal("2.5"), "")}
    assert [item.pk for item in kept] == [item.pk for item in items]


def test_nothing_changed_asks_nothing(items, django_assert_num_queries):
    with django_assert_num_queries(0):
        rewrite(Item.objects.of(items[0].site), [], {"pack"})
        rewrite(Item.objects.of(items[0].site), items, set())

"""Many rows are written at once."""

from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.db import IntegrityError, transaction

from takeoff.database.bulk import MANY, insert_rows, rewrite
from takeoff.models import Cable, Item, Stage
from tests.factories.takeoff import RunFactory, SiteFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def items():
    site = SiteFactory(slug="here", name="Here")
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


def test_new_rows_come_back_as_they_were_made(django_assert_max_num_queries):
    site = SiteFactory(slug="here", name="Here")
    tab = "a\ttab, a \\ backslash, a\nline and \\N"
    new = [Cable(site=site, code=f"C{number}", size="500", material="Cu", buy_lengths=[1, 2]) for number in range(300)]
    new[7].insulation, new[7].diameter, new[7].shielded = tab[:60], Decimal("25.4762"), True

    with django_assert_max_num_queries(10):  # one for as many rows as the database takes at once
        insert_rows(new)

    kept = {cable.code: cable for cable in Cable.objects.of(site)}
    assert len(kept) == 300
    assert {cable.code: cable.pk for cable in new} == {code: cable.pk for code, cable in kept.items()}
    seventh = kept["C7"]
    assert (seventh.insulation, seventh.diameter, seventh.shielded) == (tab[:60], Decimal("25.4762"), True)
    assert (seventh.buy_lengths, kept["C8"].diameter, kept["C8"].insulation) == ([1, 2], None, "")
    run = RunFactory(site=site, name="R", cables_per_phase=1, cable=new[7])
    done = site.start_of(site.today())
    insert_rows([Stage(run=run, stage="seals", planned=site.today(), done=done)], keys=False)
    stage = run.stages.get()
    assert (stage.planned, stage.done) == (site.today(), done)


@pytest.mark.parametrize("amount", [1, MANY - 1, MANY, MANY + 1])
def test_many_and_few_new_rows_are_alike(amount):
    """Above a number of rows PostgreSQL copies them; keys follow the rows, and what is made next goes on from there."""
    site = SiteFactory(slug="here", name="Here")
    new = [Item(site=site, code=f"I{number}", description="x", pack=Decimal(number + 1)) for number in range(amount)]
    insert_rows(new)
    later = Item.objects.create(site=site, code="LATER", description="x")
    assert not any(item._state.adding for item in new)
    kept = Item.objects.of(site).exclude(pk=later.pk).order_by("pk")
    assert [(item.pk, item.code, item.pack) for item in kept] == [(item.pk, item.code, item.pack) for item in new]
    assert later.pk > new[-1].pk


def test_rows_are_written_from_whatever_has_their_values():
    site = SiteFactory(slug="here", name="Here")
    insert_rows([SimpleNamespace(**vars(Item(site=site, code="A", pack=Decimal("2.5"))))], keys=False, model=Item)
    assert Item.objects.of(site).get().pack == Decimal("2.5")


def test_many_rows_that_break_a_rule_are_refused_as_few_are():
    site = SiteFactory(slug="here", name="Here")
    new = [Item(site=site, code=f"I{number // 2}", description="x") for number in range(2 * MANY)]
    with pytest.raises(IntegrityError), transaction.atomic():
        insert_rows(new)
    assert not Item.objects.of(site).exists()


def test_the_database_holds_its_rules_for_new_rows():
    site = SiteFactory(slug="here", name="Here")
    twice = [Item(site=site, code="A", description="x"), Item(site=site, code="A", description="y")]
    for bad in (twice, [Item(site=site, code="B", description="x", pack=0)]):
        with pytest.raises(IntegrityError), transaction.atomic():
            insert_rows(bad, keys=False)
    assert not Item.objects.of(site).exists()


def test_no_new_rows_ask_nothing(django_assert_num_queries):
    with django_assert_num_queries(0):
        insert_rows([])

"""Links are made after the act, each row once, whoever else links."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from takeoff.chain import linked_rows, services
from takeoff.chain.linked_rows import hash_of, linked_models
from takeoff.chain.queries import broken_links, head_of
from takeoff.chain.services import LATE, ROWS_IN_ONE, link_later, link_rows, link_soon
from takeoff.models import Link, RuleBook
from tests.factories.kits import MoveFactory, PostingFactory
from tests.factories.takeoff import RuleBookFactory, SiteFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _nobody_has_linked(monkeypatch):
    monkeypatch.setattr(services, "_last_tried", {})
    monkeypatch.setattr(services, "_asked", {})


@pytest.fixture
def site(db):
    return SiteFactory(slug="north")


def linked(site) -> list[tuple[str, int]]:
    rows = Link.objects.of(site).order_by("number").values_list("table", "first", "last")
    return [(table, last - first + 1) for table, first, last in rows]


def test_what_waits_is_linked_once(site):
    for _ in range(3):
        PostingFactory(site=site)
    RuleBookFactory(site=site)
    assert link_rows(site) == 4
    assert link_rows(site) == link_rows(site, all_keys=True) == 0
    assert linked(site) == [("kits_posting", 3), ("takeoff_rulebook", 1)]
    assert list(broken_links(site)) == []


def test_a_link_holds_no_more_than_it_may(site):
    for version in range(1, ROWS_IN_ONE + 3):
        RuleBookFactory(site=site, version=version)
    link_rows(site)
    assert linked(site) == [("takeoff_rulebook", ROWS_IN_ONE), ("takeoff_rulebook", 2)]


def test_a_key_of_another_site_ends_a_link(site):
    south = SiteFactory(slug="south")
    for one in (site, site, south, site):
        PostingFactory(site=one)
    link_rows(site)
    link_rows(south)
    assert linked(site) == [("kits_posting", 2), ("kits_posting", 1)]
    assert linked(south) == [("kits_posting", 1)]


def test_each_link_holds_the_hash_of_the_one_before(site):
    for version in (1, 2, 3):
        RuleBookFactory(site=site, version=version)
        link_rows(site)
    first, second, third = Link.objects.of(site).order_by("number")
    assert hash_of(third, second.hash) == (third.hash, 1)
    assert hash_of(third, first.hash) != (third.hash, 1)
    assert hash_of(first, "")[0] == first.hash


def test_what_comes_late_with_a_lower_key_is_linked(site):
    first, second = PostingFactory(site=site), PostingFactory(site=site)
    key = first.pk
    with connection.cursor() as cursor:
        name = "guard_kits_posting_delete"
        cursor.execute(f"DROP TRIGGER {name}" + (" ON kits_posting" if connection.vendor == "postgresql" else ""))
        cursor.execute("DELETE FROM kits_posting WHERE id = %s", [key])
    assert link_rows(site) == 1
    PostingFactory(site=site, pk=key)  # its transaction began earlier, and ended later
    soon = 1 if LATE[connection.vendor] else 0
    assert link_rows(site) == soon
    assert link_rows(site, all_keys=True) == 1 - soon
    assert linked(site) == [("kits_posting", 1), ("kits_posting", 1)]
    assert Link.objects.of(site).get(number=1).first == second.pk


def test_no_more_is_linked_in_passing_than_is_quick(site, monkeypatch):
    monkeypatch.setattr(services, "ROWS_AT_ONCE", 2)
    for version in range(1, 8):
        RuleBookFactory(site=site, version=version)
    assert link_rows(site, most=3) == 4
    assert link_rows(site) == 3


@pytest.mark.parametrize(("document", "holds"), [("", True), ("P-1", False)])
def test_a_column_at_its_default_is_no_part_of_the_hash(site, monkeypatch, document, holds):
    """So that a column which is added later, with a default, changes no hash."""
    PostingFactory(site=site, document=document)
    link_rows(site)
    columns = linked_rows._columns
    monkeypatch.setattr(
        linked_rows, "_columns", lambda model: [each for each in columns(model) if each[0] != "document"]
    )
    assert (list(broken_links(site)) == []) is holds


def test_a_row_and_what_was_written_with_it_are_one(site):
    posting = PostingFactory(site=site)
    link_rows(site)
    MoveFactory(posting=posting)
    (fault,) = broken_links(site)
    assert f"kits_posting {posting.pk}, or what was written with it" in fault


def test_of_two_who_link_at_once_one_gives_up(site):
    PostingFactory(site=site)
    link_rows(site)
    head = head_of(site)
    with pytest.raises(IntegrityError), transaction.atomic():
        Link.objects.create(site=site, number=head.number, table="kits_posting", first=0, last=0, at=head.at, hash="x")


@pytest.mark.django_db(transaction=True)
def test_an_act_is_linked_once_it_is_in_the_books_and_not_before():
    site = SiteFactory()
    with transaction.atomic():
        RuleBookFactory(site=site)
        link_soon(site)
        assert head_of(site) is None
    assert linked(site) == [("takeoff_rulebook", 1)]


@pytest.mark.django_db(transaction=True)
def test_what_follows_at_once_is_left_to_a_worker():
    site = SiteFactory()
    for version in (1, 2, 3):
        with transaction.atomic():
            RuleBookFactory(site=site, version=version)
            link_soon(site)
    assert linked(site) == [("takeoff_rulebook", 1)]
    asked = DBTaskResult.objects.get()  # once, not for each
    assert timezone.now() < asked.run_after < timezone.now() + timedelta(seconds=3)
    assert link_later.func(site.pk) == 2
    assert RuleBook.objects.count() == 3


@pytest.mark.django_db(transaction=True)
def test_an_act_that_is_taken_back_links_nothing():
    site = SiteFactory()
    with transaction.atomic():
        RuleBookFactory(site=site)
        link_soon(site)
        transaction.set_rollback(True)
    assert head_of(site) is None


def test_the_links_are_not_linked_themselves():
    assert Link not in linked_models()

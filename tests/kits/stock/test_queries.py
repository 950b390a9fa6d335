"""Postings that stand, asked in a way that stays quick when there are many."""

import pytest
from django.db import connection
from django.db.models import Exists

from kits.receiving.queries import valid_counts
from kits.stock.models import Posting
from kits.stock.queries import reversals
from tests.factories.kits import PostingFactory
from tests.factories.takeoff import SiteFactory


@pytest.mark.django_db
def test_what_stands_is_asked_without_a_join_that_finds_nothing():
    assert "LEFT OUTER JOIN" not in str(valid_counts(SiteFactory()).query)


@pytest.mark.django_db
@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite takes the whole index, to the same end")
def test_of_many_postings_those_that_take_one_back_are_read_and_no_others():
    first = PostingFactory()
    Posting.objects.bulk_create(PostingFactory.build_batch(2000, site=first.site))
    PostingFactory(site=first.site, reverses=first)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE kits_posting")
    assert (
        "posting_taken_back" in Posting.objects.of(first.site).filter(~Exists(reversals(first.site, of="pk"))).explain()
    )

"""Reads about postings that pages and reports share."""

from __future__ import annotations

from django.db.models import OuterRef

from kits.stock.models import Posting
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteQuerySet


def reversals(*sites: Site, of: str = "posting") -> SiteQuerySet[Posting]:
    """
    Return what reverses the posting of an outer query's row, one at most; `~Exists` of it: the posting stands.

    of : where that row holds its posting. A join that finds no reversal says the same and is far slower: databases
    think that it leaves next to nothing, and go through all that follows row by row.
    """
    return Posting.objects.of(*sites).filter(reverses=OuterRef(of))

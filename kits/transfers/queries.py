"""Reads about what is on the way between sites."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Exists, OuterRef

from kits.stock.models import Balance, Move, Posting
from kits.stock.queries import reversals
from kits.stock.worth import with_units
from takeoff.sites.models import Place, Site


@dataclass(frozen=True, slots=True)
class OnTheWay:
    """What one record of another site sent here and nobody has taken in."""

    sender: Site
    posting: Posting
    moves: tuple[Move, ...]


def on_the_way_from(site: Site) -> list[Balance]:
    """Return what is on the way from a site, by the site that it goes to."""
    rows = Balance.objects.of(site).filter(place__kind=Place.Kind.TRANSIT, quantity__gt=0)
    return list(with_units(rows, site).select_related("place", "item").order_by("place__name", "item__code", "lot"))


def on_the_way_to(site: Site) -> list[OnTheWay]:
    """Return what other sites have sent here, in a number of queries that does not grow with it."""
    others = {other.pk: other for other in Site.objects.exclude(pk=site.pk)}
    moves = Move.objects.of(*others.values()).filter(target__kind=Place.Kind.TRANSIT, target__name=site.slug)
    arrived = Posting.objects.of(*others.values()).filter(
        moves__source__kind=Place.Kind.TRANSIT, document=OuterRef("posting__event_id"), site=OuterRef("posting__site")
    )
    standing = ~Exists(reversals(*others.values()))
    standing_arrival = arrived.filter(~Exists(reversals(*others.values(), of="pk")))
    open_ = moves.filter(standing, posting__reverses=None).exclude(Exists(standing_arrival))
    found: dict[int, list[Move]] = {}
    for move in with_units(open_, *others.values()).select_related("item", "posting").order_by("posting__at", "pk"):
        found.setdefault(move.posting_id, []).append(move)
    return [OnTheWay(others[moves[0].posting.site_id], moves[0].posting, tuple(moves)) for moves in found.values()]

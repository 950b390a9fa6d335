"""Reads of photos that pages, reports and proofs share."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from hashlib import sha256

from django.db.models import Q

from takeoff.photos.models import Photo
from takeoff.photos.on_disk import place_of
from takeoff.sites.models import Site


def photos_of(site: Site, records: Iterable[tuple[str, str]]) -> dict[tuple[str, str], list[Photo]]:
    """Return the photos of each record (kind, id) that has some, in the order in which they came, in one query."""
    by_kind: dict[str, list[str]] = {}
    for kind, record in records:
        by_kind.setdefault(kind, []).append(record)
    wanted = Q(pk__in=[])
    for kind, ids in by_kind.items():
        wanted |= Q(kind=kind, record__in=ids)
    found: dict[tuple[str, str], list[Photo]] = {}
    rows = Photo.objects.of(site).filter(wanted).select_related("by", "removed__by")
    for photo in rows.order_by("at", "pk"):
        found.setdefault((photo.kind, photo.record), []).append(photo)
    return found


def lost_or_left(site: Site) -> Iterator[str]:
    """Yield the photos whose file is not there or another, and those taken away whose file is still there."""
    for photo in Photo.objects.of(site).select_related("removed").order_by("pk"):
        place = place_of(site.pk, photo.uuid)
        if hasattr(photo, "removed"):
            if place.exists():
                yield f"{photo}: taken away, and its file is still there"
        elif not place.exists():
            yield f"{photo}: its file is not there"
        elif sha256(place.read_bytes()).hexdigest() != photo.sha256:
            yield f"{photo}: its file is not the one that was kept"

"""Keeping photos and taking them away: file and row together."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import partial
from hashlib import sha256
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from takeoff.chain.services import link_soon
from takeoff.database.locks import in_turn
from takeoff.people.models import User
from takeoff.photos.errors import PhotoError
from takeoff.photos.models import Photo, PhotoRemoved
from takeoff.photos.on_disk import place_of, put_in_place, write_beside
from takeoff.photos.pictures import made_to_keep
from takeoff.sites.models import Site

OF_FORMS = UUID("5f0c8a52-5a1e-4a8e-9f0e-6d2c9b7e41aa")  # the ids of photos that came by a form are made within it


@dataclass(frozen=True, slots=True)
class KeptPhoto:
    """A photo that is kept. known : it was so before."""

    photo: Photo
    known: bool


def keep_photo(
    *,
    site: Site,
    by: User,
    kind: str,
    record: str,
    content: bytes,
    uuid: UUID | None = None,
    device_at: datetime | None = None,
) -> KeptPhoto:
    """
    Keep a photo of what a record tells, or know it again.

    uuid : empty where a page's form sends it, which has none to give: the same picture of the same record is then the
    same photo, however often the form is sent. Raises PhotoError.
    """
    sent = sha256(content).hexdigest()
    uuid = uuid or uuid5(OF_FORMS, f"{site.pk} {kind} {record} {sent}")
    said = (kind, record, sent)
    if known := _known(site, uuid, said):
        return known
    now = timezone.now()
    picture = made_to_keep(content, site.tz, now)
    place = place_of(site.pk, uuid)
    part = write_beside(place, picture.jpeg)

    def kept() -> KeptPhoto:
        if known := _known(site, uuid, said):
            return known
        # The row keeps others with this id out; it is there for good only once the file is.
        photo = Photo.objects.create(
            site=site,
            uuid=uuid,
            kind=kind,
            record=record,
            width=picture.width,
            height=picture.height,
            size=len(picture.jpeg),
            sha256=sha256(picture.jpeg).hexdigest(),
            sent_sha256=sent,
            taken=picture.taken,
            device_at=device_at,
            at=now,
            by=by,
        )
        put_in_place(part, place)
        link_soon(site)
        return KeptPhoto(photo, known=False)

    try:
        return in_turn(kept)
    finally:
        part.unlink(missing_ok=True)


def remove_photo(*, photo: Photo, reason: str, by: User) -> PhotoRemoved:
    """Take a photo away, and its file once that is certain. Done again, only the file goes. Raises PhotoError."""
    reason = reason.strip()
    if not reason:
        raise PhotoError("Say why it is taken away.")

    def removed() -> PhotoRemoved:
        link_soon(photo.site)
        found = PhotoRemoved.objects.of(photo.site_id).filter(photo=photo).first()
        return found or PhotoRemoved.objects.create(photo=photo, reason=reason, at=timezone.now(), by=by)

    gone = in_turn(removed)
    transaction.on_commit(partial(place_of(photo.site_id, photo.uuid).unlink, missing_ok=True))
    return gone


def _known(site: Site, uuid: UUID, said: tuple[str, str, str]) -> KeptPhoto | None:
    """Return the photo with this id, if there is one. Raises PhotoError when it is another."""
    photo = Photo.objects.of(site).filter(uuid=uuid).select_related("removed").first()
    if photo is None:
        return None
    if (photo.kind, photo.record, photo.sent_sha256) != said:
        raise PhotoError("Another photo has this id already. Take it again, as a photo of its own.")
    return KeptPhoto(photo, known=True)

"""Photos, each tied to a record by its kind and id, and those that were taken away."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from takeoff.people.models import User
from takeoff.sites.models import Site
from takeoff.sites.scope import SiteManager


class Photo(models.Model):
    """
    A photo of what a record tells. The record is no row that it points to: either may come first.

    size, sha256 : bytes of the file that is kept. sent_sha256 : of the file as it was sent, by which a second sending
    is known. taken : when the camera says. device_at : when the device says that it kept it. at : when it came.
    """

    site = models.ForeignKey(Site, models.CASCADE, related_name="photos")
    uuid = models.UUIDField()
    kind = models.CharField(max_length=20)
    record = models.CharField(max_length=80)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    size = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    sent_sha256 = models.CharField(max_length=64)
    taken = models.DateTimeField(null=True)
    device_at = models.DateTimeField(null=True)
    at = models.DateTimeField()
    by = models.ForeignKey(User, models.PROTECT, related_name="+")

    objects = SiteManager()

    class Meta:
        constraints = [models.UniqueConstraint(name="one_photo_per_id", fields=["site", "uuid"])]
        indexes = [models.Index(name="photo_by_record", fields=["site", "kind", "record"])]

    def __str__(self) -> str:
        return f"{self.kind} {self.record} {self.uuid}"


class PhotoRemoved(models.Model):
    """A photo that was taken away: its row stays, its file does not."""

    photo = models.OneToOneField(Photo, models.PROTECT, related_name="removed")
    reason = models.CharField(max_length=300)
    at = models.DateTimeField()
    by = models.ForeignKey(User, models.PROTECT, related_name="+")

    objects = SiteManager()
    site_path = "photo__site"

    class Meta:
        constraints = [models.CheckConstraint(name="photo_removed_for_a_reason", condition=~Q(reason=""))]

    def __str__(self) -> str:
        return f"{self.photo}: {self.reason}"

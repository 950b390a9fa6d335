"""People: who signs in, which roles each has on which site, and who is invited."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.db import models

from takeoff.sites.models import Site
from takeoff.sites.scope import SiteManager


class User(AbstractUser):
    """A person who signs in; what the person may do is said per site, by `Member`."""

    def __str__(self) -> str:
        return self.get_full_name() or self.username


class Member(models.Model):
    """A role that a person has on a site; a person with two roles has two rows."""

    class Role(models.TextChoices):
        STOREKEEPER = "storekeeper", "Storekeeper"
        FOREMAN = "foreman", "Foreman"
        PURCHASER = "purchaser", "Purchaser"
        PLANNER = "planner", "Planner"
        VIEWER = "viewer", "Viewer"

    site = models.ForeignKey(Site, models.CASCADE, related_name="members")
    user = models.ForeignKey(User, models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=12, choices=Role)

    objects = SiteManager()

    class Meta:
        constraints = [models.UniqueConstraint(name="one_row_per_role", fields=["site", "user", "role"])]

    def __str__(self) -> str:
        return f"{self.user} · {self.get_role_display()}"


class Invitation(models.Model):
    """A link by which a person may join a site. The link is signed and ends; it works once."""

    site = models.ForeignKey(Site, models.CASCADE, related_name="invitations")
    email = models.EmailField()
    roles = models.JSONField(default=list)
    invited_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    invited_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)

    objects = SiteManager()

    def __str__(self) -> str:
        return f"{self.email} → {self.site}"

"""
The one way to a site's rows.

Only roots hold the site; a child names the way to its root in `site_path`. Code outside this module asks for rows
with `Model.objects.of(site)`; `tests/test_scope.py` reads the whole source and refuses any other start of a query.
"""

from __future__ import annotations

from typing import Self, TypeVar

from django.db import models

M = TypeVar("M", bound=models.Model)


class SiteQuerySet(models.QuerySet[M]):
    """Rows that belong to a site."""

    def of(self, *sites: models.Model | int) -> Self:
        """Return the rows of one site, or of both when something goes from one to the other, and no others."""
        path = site_path(self.model)
        return self.filter(**({path: sites[0]} if len(sites) == 1 else {f"{path}__in": sites}))


class SiteManager(models.Manager[M]):
    """The manager of every model that belongs to a site."""

    def get_queryset(self) -> SiteQuerySet[M]:
        """Return rows that can be narrowed to a site."""
        return SiteQuerySet(self.model, using=self._db)

    def of(self, *sites: models.Model | int) -> SiteQuerySet[M]:
        """Return the rows of the sites and no others."""
        return self.get_queryset().of(*sites)


def site_path(model: type[models.Model]) -> str:
    """Return the lookup from `model` to its site, such as `run__site`."""
    path: str = getattr(model, "site_path", "site")
    return path

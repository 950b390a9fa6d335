"""Whom a bin serves, and when it is passed on the walk through the store."""

from __future__ import annotations

from django.db import transaction

from kits.promises.models import Kit, KitBox
from takeoff.runs.models import Run
from takeoff.sites.models import Place


def passed_on(*, before: Run | None, after: Run | None) -> str:
    """Return what is said of a bin in which something lies when it is to serve others; empty where it is not."""
    if before == after:
        return ""
    return f"holds stock that is for {_whom(before)}: from now on it is for {_whom(after)}"


@transaction.atomic
def set_up_bin(*, place: Place, kit: Kit | None, walk: int | None) -> None:
    """Let a bin serve a kit, or every run again, and set its number on the walk through the store."""
    Place.objects.of(place.site).filter(pk=place.pk).update(walk=walk)
    if kit:
        KitBox.objects.of(place.site).update_or_create(place=place, defaults={"kit": kit})
    else:
        KitBox.objects.of(place.site).filter(place=place).delete()


def _whom(run: Run | None) -> str:
    return str(run) if run else "every run"

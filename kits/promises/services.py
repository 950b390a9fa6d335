"""Making places serve kits."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import transaction

from kits.promises.models import Kit, KitBox
from takeoff.sites.models import Place


@transaction.atomic
def make_kit_boxes(wanted: Iterable[tuple[Kit, Place]]) -> None:
    """Let places serve kits; one that serves a kit already stays as it is: somebody else was first."""
    KitBox.objects.bulk_create([KitBox(kit=kit, place=place) for kit, place in wanted], ignore_conflicts=True)

"""Reads about kits."""

from __future__ import annotations

from kits.promises.models import Kit, KitBox
from takeoff.sites.models import Place


def kit_of(place: Place) -> Kit | None:
    """Return the kit that a place serves, None for what is pooled; without a query where `kit_box__kit` was read."""
    box: KitBox | None = getattr(place, "kit_box", None)
    return box.kit if box else None

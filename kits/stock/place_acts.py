"""What can be done on a page with what lies at a place: which kind of record it is, and what its form asks besides."""

from __future__ import annotations

from dataclasses import dataclass

from takeoff.sites.models import Place


@dataclass(frozen=True, slots=True)
class PlaceAct:
    """
    An act with goods of a place.

    kind : of its records. source, target : the columns that name the place, and the bin that is asked for ("" for
    none). reason : whether one is asked for. caution : what is said before it.
    """

    name: str
    title: str
    button: str
    kind: str
    source: str
    target: str = ""
    reason: bool = True
    caution: str = ""


MOVE = PlaceAct("move", "Move", "Move what is ticked", "transfers", "source", "target", reason=False)
SCRAP = PlaceAct("scrap", "Scrap", "Scrap what is ticked", "scraps", "bin")
SEND_BACK = PlaceAct("send-back", "Send back", "Send back what is ticked", "send_backs", "bin")
RELEASE = PlaceAct(
    "release",
    "Release",
    "Release what is ticked",
    "releases",
    "held",
    "bin",
    caution="Only what was found good after all. A refused grade is never released.",
)


def acts_at(place: Place) -> list[PlaceAct]:
    """Return what can be done with what lies at a place: what is on hold leaves it by a release only."""
    if place.kind == Place.Kind.QUARANTINE:
        return [RELEASE, SEND_BACK, SCRAP]
    return [MOVE, SCRAP, SEND_BACK] if Place.Kind(place.kind).holds_good_stock else []

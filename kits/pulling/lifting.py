"""The weight of a reel in words, for whoever lifts or carries it."""

from __future__ import annotations

from reels.drum.reel_weights import ReelWeights
from takeoff.units.shown import decimal


def for_lifting(reel: ReelWeights) -> str:
    """Return the weight to lift by: never less than the reel weighs."""
    if reel.most is None:
        return "weight not known: weigh it"
    return f"not more than {decimal(reel.most)} {reel.unit}, full as on its tag"


def for_a_forklift(reel: ReelWeights) -> str:
    """Return what it weighs now by reckoning and a tenth more; empty where not known or not below its gross."""
    if reel.reckoned is None or (reel.gross is not None and reel.reckoned >= reel.gross):
        return ""
    return f"{decimal(reel.reckoned)} {reel.unit}"

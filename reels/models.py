"""The models of this floor's rooms, gathered for Django."""

from reels.ledger.models import Cut, CutDecision, Reel

__all__ = ["Cut", "CutDecision", "Reel"]

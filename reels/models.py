"""The models of this floor's rooms, gathered for Django."""

from reels.ledger.models import Cut, Reel

__all__ = ["Cut", "Reel"]

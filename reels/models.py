"""The models of this floor's rooms, gathered for Django."""

from reels.field.models import DoubtSeen
from reels.ledger.models import Cut, CutDecision, Reel, ReelEvent
from reels.plans.models import CutPlan, PlannedCut

__all__ = ["Cut", "CutDecision", "CutPlan", "DoubtSeen", "PlannedCut", "Reel", "ReelEvent"]

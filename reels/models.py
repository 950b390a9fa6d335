"""The models of this floor's rooms, gathered for Django."""

from reels.field.models import DoubtSeen
from reels.ledger.models import Cut, CutDecision, Reading, Reel, ReelEvent
from reels.plans.models import CutPlan, PlannedCut

__all__ = ["Cut", "CutDecision", "CutPlan", "DoubtSeen", "PlannedCut", "Reading", "Reel", "ReelEvent"]

"""The models of this floor's rooms, gathered for Django."""

from takeoff.catalogue.models import Cable, Item, Supplier
from takeoff.people.models import Invitation, Member, User
from takeoff.rules.models import Override, Rule, RuleBook, Takeoff, TakeoffLine
from takeoff.runs.models import Conductor, Crossing, LengthChoice, Measurement, Run, RunEnd, Section, Stage
from takeoff.sites.models import Place, Site

__all__ = [
    "Cable",
    "Conductor",
    "Crossing",
    "Invitation",
    "Item",
    "LengthChoice",
    "Measurement",
    "Member",
    "Override",
    "Place",
    "Rule",
    "RuleBook",
    "Run",
    "RunEnd",
    "Section",
    "Site",
    "Stage",
    "Supplier",
    "Takeoff",
    "TakeoffLine",
    "User",
]

"""The models of this floor's rooms, gathered for Django."""

from takeoff.catalogue.models import Cable, Item, Supplier, UsagePrior
from takeoff.chain.models import Link
from takeoff.people.models import Invitation, Member, User
from takeoff.photos.models import Photo, PhotoRemoved
from takeoff.records.models import AsideEnd, Record, SetAside
from takeoff.rules.models import Override, Rule, RuleBook, Takeoff, TakeoffLine
from takeoff.runs.models import (
    Conductor,
    Crossing,
    LengthChoice,
    Measurement,
    NothingUsed,
    Run,
    RunEnd,
    Section,
    Stage,
    StageReport,
)
from takeoff.sites.models import Place, Site

__all__ = [
    "AsideEnd",
    "Cable",
    "Conductor",
    "Crossing",
    "Invitation",
    "Item",
    "LengthChoice",
    "Link",
    "Measurement",
    "Member",
    "NothingUsed",
    "Override",
    "Photo",
    "PhotoRemoved",
    "Place",
    "Record",
    "Rule",
    "RuleBook",
    "Run",
    "RunEnd",
    "Section",
    "SetAside",
    "Site",
    "Stage",
    "StageReport",
    "Supplier",
    "Takeoff",
    "TakeoffLine",
    "UsagePrior",
    "User",
]

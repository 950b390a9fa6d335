"""What the pages of claims show."""

from __future__ import annotations

from dataclasses import dataclass

from kits.claims.models import Claim
from kits.claims.queries import ClaimFile, ToClaim, claim_files, claims_of, open_ones, still_open
from kits.receiving.queries import delivery_reports
from kits.shipments.models import Shipment
from takeoff.sites.models import Site

LAST_OVER = 30


@dataclass(frozen=True, slots=True)
class ClaimsPage:
    """The claims of a site: open ones by the next date, what can still be claimed, and those that are over."""

    open: list[ClaimFile]
    to_open: list[ToClaim]
    over: list[Claim]


def claims_page(site: Site) -> ClaimsPage:
    """Return what the list of claims shows; of those that are over the last ones that were opened."""
    files, left = still_open(site)
    claims = claims_of(site)
    over = claims.exclude(pk__in=open_ones(site, claims).values("pk")).order_by("-pk")
    return ClaimsPage(files, left, list(over[:LAST_OVER]))


def claim_file(site: Site, claim: Claim) -> ClaimFile:
    """Return what the page of one claim shows. claim : as `claims_of` reads it."""
    shipments = Shipment.objects.of(site).filter(pk=claim.shipment_id).select_related("supplier")
    reports = {report.shipment.pk: report for report in delivery_reports(site, shipments)}
    return claim_files(site, [claim], reports)[0]

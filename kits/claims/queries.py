"""Reads about deliveries that were not as listed and can still be claimed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from kits.receiving.queries import delivery_reports
from kits.shipments.models import Shipment
from takeoff.sites.models import Site


@dataclass(frozen=True, slots=True)
class OpenClaim:
    """
    A delivery that was not as listed. what : how many lines are short, damaged and so on.

    by : the next date, which is the last day to report concealed damage (`concealed`), else `claim`, to file a claim.
    """

    shipment: Shipment
    what: tuple[tuple[str, int], ...]
    by: date
    concealed: bool
    claim: date


def open_claims(site: Site) -> list[OpenClaim]:
    """Return the deliveries with exceptions whose claim has not run out, by the next date, in a few queries."""
    today = site.today()
    since = site.start_of(today - timedelta(days=31 * (site.claim_months + 1)))
    recent = Shipment.objects.of(site).filter(receipts__posting__at__gte=since).select_related("supplier").distinct()
    claims = []
    for report in delivery_reports(site, recent):
        lines = [listed.report for listed in report.exceptions]
        if report.dates is None or not (lines or report.unlisted) or report.dates.claim < today:
            continue
        said = {
            "short": sum(bool(line.short) for line in lines),
            "damaged": sum(bool(line.damaged) for line in lines),
            "refused": sum(bool(line.refused) for line in lines),
            "over": sum(bool(line.over) for line in lines),
            "wrong": sum(bool(line.wrong) for line in lines),
            "not on the list": len(report.unlisted),
        }
        concealed = report.dates.concealed >= today
        claims.append(
            OpenClaim(
                shipment=report.shipment,
                what=tuple((word, count) for word, count in said.items() if count),
                by=report.dates.concealed if concealed else report.dates.claim,
                concealed=concealed,
                claim=report.dates.claim,
            )
        )
    return sorted(claims, key=lambda one: (one.by, one.shipment.name))

"""`manage.py audit`: proves that the ledgers hold, or says where they do not."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from kits.audit.proofs import Proof, prove_database, prove_site
from kits.shortages.queries import reconcile
from kits.shortages.reckon.causes import BooksDoNotAddUp
from takeoff.sites.models import Site


class Command(BaseCommand):
    """Proves what the books of a site, or of all sites, promise."""

    help = "Prove the ledgers: guards, sums, balances, causes, and that no row belongs to two sites."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the site; all sites without it."""
        parser.add_argument("--site", metavar="SLUG", help="Prove this site's books only; all sites' without it.")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Print every proof; fail when one does not hold."""
        proofs = self._told("Database", prove_database())
        for site in _sites(options["site"]):
            proofs += self._told(f"Site {site.slug}", [*prove_site(site), _causes(site)])
        failed = sum(not proof.holds for proof in proofs)
        if failed:
            raise CommandError(f"{failed} of {len(proofs)} proofs failed.")
        self.stdout.write(self.style.SUCCESS(f"All {len(proofs)} proofs hold."))

    def _told(self, heading: str, proofs: list[Proof]) -> list[Proof]:
        self.stdout.write(heading)
        for proof in proofs:
            mark = "holds" if proof.holds else "FAILS"
            self.stdout.write(f"  {mark}  {proof.claim}")
            for fault in proof.faults:
                self.stdout.write(f"         {fault}")
        return proofs


def _causes(site: Site) -> Proof:
    claim = "Every gap is the sum of its causes"
    try:
        reconcile(site)
    except BooksDoNotAddUp as error:
        return Proof(claim, (str(error),))
    return Proof(claim)


def _sites(slug: str | None) -> list[Site]:
    sites = list(Site.objects.order_by("slug"))
    if slug is None:
        return sites
    chosen = [site for site in sites if site.slug == slug]
    if not chosen:
        known = ", ".join(site.slug for site in sites) or "none yet"
        raise CommandError(f"There is no site {slug!r}; sites: {known}.")
    return chosen

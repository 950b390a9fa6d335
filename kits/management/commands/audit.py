"""`manage.py audit`: proves that the ledgers hold, or says where they do not."""

from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, IntegrityError

from kits.audit.as_kept import prove_as_kept
from kits.audit.proofs import Proof, prove, prove_database, prove_site
from kits.shortages.queries import reconcile
from kits.shortages.reckon.causes import BooksDoNotAddUp
from takeoff.chain.queries import head_of
from takeoff.chain.services import link_rows
from takeoff.sites.models import Site

Heads = dict[str, list[tuple[int, str]]]  # by site: numbers and hashes of links


class Command(BaseCommand):
    """Proves what the books of a site, or of all sites, promise."""

    help = "Prove the ledgers: guards, sums, balances, causes, the chain, and that no row belongs to two sites."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the site; all sites without it; and the heads of the chains."""
        parser.add_argument("--site", metavar="SLUG", help="Prove this site's books only; all sites' without it.")
        parser.add_argument(
            "--head",
            metavar="FILE",
            nargs="?",
            const="",
            help="Print the last link of every chain, to be kept elsewhere; with FILE, prove that they have those.",
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        """Print every proof; fail when one does not hold."""
        if options["head"] == "":
            self._write_heads(_sites(options["site"]))
            return
        shows = options["verbosity"] > 0 and self.stderr.isatty()
        heads = _read_heads(options["head"]) if options["head"] else {}
        proofs = self._told("Database", prove_database())
        sites = prove("Sites can be read", lambda: _missing_sites(heads))
        if not sites.holds:
            proofs += self._told("Sites", [sites])
        for site in _sites(options["site"]) if sites.holds else ():
            kept = prove_as_kept(
                site, heads=heads.get(site.slug, []), seen=self._show if shows else lambda _words: None
            )
            if shows:
                self._show("")
                self.stderr.write("\r", ending="")
            proofs += self._told(f"Site {site.slug}", [*prove_site(site), *kept, _causes(site)])
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

    def _show(self, words: str) -> None:
        self.stderr.write(f"\r{words:<60.60}", ending="")

    def _write_heads(self, sites: list[Site]) -> None:
        for site in sites:
            try:
                link_rows(site, all_keys=True)
            except IntegrityError as error:
                raise CommandError(f"{site.slug}: somebody links at this moment. Try again.") from error
            except DatabaseError as error:
                raise CommandError(f"{site.slug}: its books cannot be linked: {error}") from error
            if head := head_of(site):
                self.stdout.write(f"{site.slug} {head.number} {head.hash}")


def _read_heads(path: str) -> Heads:
    """Return the heads that `audit --head` printed into a file. Raises CommandError for what it does not print."""
    try:
        lines = Path(path).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise CommandError(f"{path} cannot be read: {error}") from error
    heads: Heads = {}
    for row, line in enumerate(lines, start=1):
        slug, number, hash_ = (*line.split(), "", "", "")[:3]
        if not number.isdecimal() or not hash_:
            raise CommandError(
                f"{path}, line {row}: expected a site, a number and a hash, as `audit --head` prints them."
            )
        heads.setdefault(slug, []).append((int(number), hash_))
    return heads


def _missing_sites(heads: Heads) -> Iterator[str]:
    yield from sorted(f"{slug} is gone" for slug in set(heads) - {site.slug for site in _sites(None)})


def _causes(site: Site) -> Proof:
    def faults() -> Iterator[str]:
        try:
            reconcile(site)
        except BooksDoNotAddUp as error:
            yield str(error)

    return prove("Every gap is the sum of its causes", faults)


def _sites(slug: str | None) -> list[Site]:
    sites = list(Site.objects.order_by("slug"))
    if slug is None:
        return sites
    chosen = [site for site in sites if site.slug == slug]
    if not chosen:
        known = ", ".join(site.slug for site in sites) or "none yet"
        raise CommandError(f"There is no site {slug!r}; sites: {known}.")
    return chosen

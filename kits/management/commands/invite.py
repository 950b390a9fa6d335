"""Add a member to a site."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import reverse

from takeoff.people.models import Member
from takeoff.people.services import INVITATION_DAYS, MembershipError, invitation_token, invite
from takeoff.sites.models import Site


class Command(BaseCommand):
    """Prints a link by which one person joins one site, once; the first planner of a new site comes in this way."""

    help = "Make an invitation to a site and print its link, which works once."

    def add_arguments(self, parser: CommandParser) -> None:
        """Add whom, where, as what, and the address that the link starts with."""
        parser.add_argument("email", help="the person's e-mail, and later the name for signing in")
        parser.add_argument("--site", required=True, metavar="SLUG", help="the site")
        parser.add_argument(
            "--role", action="append", choices=Member.Role.values, required=True, help="may be given again"
        )
        parser.add_argument(
            "--base", default="http://127.0.0.1:8000", metavar="URL", help="where people reach this server"
        )

    def handle(self, *_args: Any, email: str, **options: Any) -> None:
        """Make the invitation and print its link."""
        site = Site.objects.filter(slug=options["site"]).first()
        if site is None:
            raise CommandError(f"There is no site {options['site']!r}; `load` makes one from a table `site`.")
        try:
            invitation = invite(site=site, email=email, roles=options["role"])
        except ValidationError as error:
            raise CommandError("; ".join(error.messages)) from error
        except MembershipError as error:
            raise CommandError(str(error)) from error
        if options["verbosity"] >= 1:
            self.stderr.write(f"{email} joins {site} with this link, within {INVITATION_DAYS} days:")
        self.stdout.write(options["base"].rstrip("/") + reverse("invited", args=[invitation_token(invitation)]))

"""Reads that pages share: who belongs to which site, with which roles."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.contrib.auth.models import AbstractBaseUser, AnonymousUser
from django.db.models import QuerySet

from takeoff.people.models import Invitation, Member, User
from takeoff.sites.models import Site


@dataclass(frozen=True, slots=True)
class Membership:
    """A site with the roles that one person has there."""

    site: Site
    roles: frozenset[str]


@dataclass(slots=True)
class MemberRow:
    """A member of a site with all roles, in the order in which roles are listed."""

    user: User
    roles: list[str] = field(default_factory=list)

    @property
    def role_names(self) -> str:
        """The roles as people read them."""
        return role_names(self.roles)


def role_names(roles: Iterable[str]) -> str:
    """Return the roles as people read them, in the order in which roles are listed."""
    held = set(roles)
    return ", ".join(str(role.label) for role in Member.Role if role.value in held)


def membership(user: AbstractBaseUser | AnonymousUser, slug: str) -> Membership | None:
    """Return the site called `slug` with the roles of `user` there, or None for a stranger."""
    if not isinstance(user, User):
        return None
    rows = list(user.memberships.filter(site__slug=slug).select_related("site"))
    if not rows:
        return None
    return Membership(rows[0].site, frozenset(row.role for row in rows))


def memberships(user: User) -> list[Membership]:
    """Return every site that `user` is a member of, by name."""
    sites: dict[int, Site] = {}
    roles: dict[int, set[str]] = {}
    for row in user.memberships.select_related("site").order_by("site__name", "site_id"):
        sites[row.site_id] = row.site
        roles.setdefault(row.site_id, set()).add(row.role)
    return [Membership(site, frozenset(roles[key])) for key, site in sites.items()]


def people(site: Site) -> list[MemberRow]:
    """Return the members of a site, by name."""
    order = list(Member.Role.values)
    found: dict[int, MemberRow] = {}
    for row in Member.objects.of(site).select_related("user").order_by("user__last_name", "user__username"):
        found.setdefault(row.user_id, MemberRow(row.user)).roles.append(row.role)
    for person in found.values():
        person.roles.sort(key=order.index)
    return list(found.values())


def open_invitations(site: Site) -> QuerySet[Invitation]:
    """Return the invitations that nobody has used, newest first."""
    return Invitation.objects.of(site).filter(accepted_at=None).select_related("invited_by").order_by("-invited_at")

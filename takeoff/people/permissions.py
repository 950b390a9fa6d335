"""
Who may do what. Membership is per site: who is no member of a site does not learn that it exists.

Every view names its permission with one of the three marks below; `takeoff/people/middleware.py` refuses to serve a
view without a mark, so nobody can forget it, and a test walks every address with every role.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails

from takeoff.people.models import Member, User
from takeoff.sites.models import Site

Role = Member.Role
View = TypeVar("View", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class Permission:
    """Something that members with one of `roles` may do."""

    does: str
    roles: frozenset[str]


def _for(does: str, *roles: Role) -> Permission:
    return Permission(does, frozenset(role.value for role in roles))


SEE = _for("see the site", *Role)
SEE_PRICES = _for("see prices", Role.PURCHASER, Role.PLANNER)
ORDER = _for("order and write reorder lists", Role.PURCHASER, Role.PLANNER)
PLAN = _for("change runs, rules and plans, and load sheets", Role.PLANNER)
MEMBERS = _for("invite and remove members", Role.PLANNER)
MEASURE = _for("report lengths as built and the progress of stages", Role.FOREMAN, Role.PLANNER)
CUT = _for("cut cable", Role.FOREMAN, Role.PLANNER)
STORE = _for("receive, count and put away", Role.STOREKEEPER, Role.PLANNER)
GATE = _for("take in trucks at the gate", Role.STOREKEEPER, Role.FOREMAN, Role.PLANNER)
CLAIM = _for("follow claims", Role.STOREKEEPER, Role.PURCHASER, Role.PLANNER)
HAND_OUT = _for("hand out to runs", Role.STOREKEEPER, Role.FOREMAN, Role.PLANNER)


@dataclass(frozen=True, slots=True)
class Access:
    """Whom a view serves: anyone, anyone signed in, or members of the site in its address with a permission."""

    signed_in: bool
    permission: Permission | None = None
    machine: bool = False  # asked by a script: refusals are JSON, and nobody is sent to sign in


def public(view: View) -> View:
    """Mark a view that serves anyone, signed in or not."""
    return _mark(view, Access(signed_in=False))


def signed_in(view: View) -> View:
    """Mark a view that serves anyone who is signed in, and belongs to no site."""
    return _mark(view, Access(signed_in=True))


def needs(permission: Permission) -> Callable[[View], View]:
    """Mark a view of a site that serves its members with `permission`; the view finds the site in `request.site`."""
    return lambda view: _mark(view, Access(signed_in=True, permission=permission))


def machine(view: View) -> View:
    """Mark a view that scripts ask: who may not is told so in JSON, never sent to another page."""
    access = access_of(view)
    assert access is not None  # the mark of who may stands below this one
    return _mark(view, replace(access, machine=True))


def access_of(view: Callable[..., Any]) -> Access | None:
    """Return the mark of a view, or None when it has none."""
    return getattr(view, "access", None)


def _mark(view: View, access: Access) -> View:
    view.access = access  # type: ignore[attr-defined]  # a function carries attributes
    return view


class SiteRequest(HttpRequest):
    """A request to a page of a site: the middleware has put the site and the member's roles on it."""

    user: User
    site: Site  # type: ignore[assignment]  # the stubs think of django.contrib.sites, which is not installed
    roles: frozenset[str]
    htmx: HtmxDetails


def may(roles: frozenset[str], permission: Permission) -> bool:
    """Return whether one of `roles` allows `permission`."""
    return bool(roles & permission.roles)


def reads_proofs(roles: frozenset[str]) -> bool:
    """Return whether a person reads rates, bounds and proofs: who cuts or hands out has other things to read."""
    return may(roles, PLAN) or not may(roles, HAND_OUT)

"""What frames every page: the way around by work, the roles' own pages first, and the chosen look."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, resolve, reverse

from takeoff.people.models import Member
from takeoff.people.permissions import Permission, access_of, may
from takeoff.records.acts import last_act
from takeoff.sites.models import Site
from takeoff.units.country import habit_of

Role = Member.Role

BY_WORK = (
    ("today", "Today"),
    ("runs", "Runs"),
    ("receiving", "Receiving"),
    ("stock", "Stock"),
    ("hand_out", "Hand out"),
    ("pull", "Pull cable"),
    ("reels", "Reels"),
    ("cut_plan", "Cut plan"),
    ("shortages", "Shortages"),
    ("orders", "Orders"),
)
OFFICE = (
    ("find_label", "Read a label"),
    ("labels", "Labels"),
    ("load_sheets", "Load sheets"),
    ("rules", "Rules"),
    ("offers", "Offers"),
    ("close_out", "Close-out"),
    ("members", "Members"),
)
OWN_FIRST: dict[str, tuple[str, ...]] = {
    Role.STOREKEEPER: ("today", "receiving", "hand_out", "stock"),
    Role.FOREMAN: ("today", "pull", "reels", "runs"),
    Role.PURCHASER: ("shortages", "orders", "today"),
    Role.PLANNER: ("today", "runs", "cut_plan", "shortages"),
    Role.VIEWER: ("today", "runs", "shortages"),
}


@dataclass(frozen=True, slots=True)
class Entry:
    """One way to go: `name` of the page, what it is called, its address, and whether it is the page shown."""

    name: str
    label: str
    url: str
    here: bool


def frame(request: HttpRequest) -> dict[str, Any]:
    """Return what the base template shows around every page."""
    theme = request.COOKIES.get("theme", "auto")
    context: dict[str, Any] = {"theme": theme if theme in {"light", "dark"} else "auto"}
    site: Site | None = getattr(request, "site", None)
    if site is None:
        return context
    roles: frozenset[str] = getattr(request, "roles", frozenset())
    work, office = _entries(request, site, roles, BY_WORK), _entries(request, site, roles, OFFICE)
    context["habit"] = habit_of(site.country)
    context["last_act"] = last_act(request, site.slug)
    return context | {"site": site, "work": work, "office": office, "own_work": own_first(work, roles)}


def own_first(entries: list[Entry], roles: frozenset[str], most: int = 4) -> list[Entry]:
    """Return the few pages that matter most to `roles`, most used first."""
    by_name = {entry.name: entry for entry in entries}
    wanted = [name for role in Role for name in OWN_FIRST[role] if role in roles]
    return [by_name[name] for name in dict.fromkeys(wanted) if name in by_name][:most]


def _entries(
    request: HttpRequest, site: Site, roles: frozenset[str], pages: tuple[tuple[str, str], ...]
) -> list[Entry]:
    match = request.resolver_match
    here = match.view_name if match else ""
    found = []
    for name, label in pages:
        permission = _permission_of(name)
        if permission and may(roles, permission):
            found.append(Entry(name, label, reverse(name, args=[site.slug]), here == name))
    return found


@cache
def _permission_of(name: str) -> Permission | None:
    """Return what a page needs, or None while there is no such page."""
    try:
        access = access_of(resolve(reverse(name, args=["x"])).func)
    except NoReverseMatch:
        return None
    return access.permission if access else None

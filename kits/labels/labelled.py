"""What can have a label, and how it is known again by its address or its tag."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.db.models import F, Q, QuerySet, Value
from django.db.models.functions import Concat
from django.urls import NoReverseMatch, resolve, reverse

from kits.shipments.models import Package
from kits.stock.pages import HERE
from reels.ledger.models import Reel
from takeoff.catalogue.models import Item
from takeoff.database.folding import folded, plain
from takeoff.people.permissions import Permission, access_of, may
from takeoff.sites.models import Place, Site
from takeoff.templatetags.shown import site_length


@dataclass(frozen=True, slots=True)
class Kind:
    """
    A sort of thing with labels.

    letter : stands for it in addresses. rows : those of a site, in order, each with `tag`, the text that is large on
    its label. searched : columns in which a person's words are looked for. facts : what else is said of it, by name.
    page : where its address leads, once there is such a page and for who may see it; parts : what that page's address
    takes of the row.
    """

    letter: str
    name: str
    plural: str
    rows: Callable[[Site], QuerySet[Any]]
    searched: tuple[str, ...]
    facts: Callable[[Any, Site], dict[str, str]]
    page: str
    parts: tuple[str, ...] = ("pk",)


def _packages(site: Site) -> QuerySet[Any]:
    tag = Concat("shipment__name", Value(" "), "name")
    return Package.objects.of(site).select_related("shipment__supplier").annotate(tag=tag).order_by("shipment", "name")


def _bins(site: Site) -> QuerySet[Any]:
    return Place.objects.of(site).filter(kind__in=HERE).annotate(tag=F("name")).order_by("name")


def _items(site: Site) -> QuerySet[Any]:
    return Item.objects.of(site).annotate(tag=F("code")).order_by("code")


def _reels(site: Site) -> QuerySet[Any]:
    return Reel.objects.of(site).select_related("cable", "place").order_by("tag")


def _facts_of_package(package: Package, _site: Site) -> dict[str, str]:
    return {"Supplier": str(package.shipment.supplier or ""), "Shipment": package.shipment.name}


def _facts_of_bin(place: Place, _site: Site) -> dict[str, str]:
    return {"Kind": place.get_kind_display()}


def _facts_of_item(item: Item, _site: Site) -> dict[str, str]:
    return {"Description": item.description}


def _facts_of_reel(reel: Reel, site: Site) -> dict[str, str]:
    length = site_length(reel.length, site)
    return {"Cable": reel.cable.code, "Length as received": length, "State": reel.get_state_display()}


KINDS = {
    kind.letter: kind
    for kind in (
        Kind(
            "p",
            "Package",
            "Packages",
            _packages,
            ("tag", "shipment__supplier__name"),
            _facts_of_package,
            "receiving_package",
            ("shipment_id", "pk"),
        ),
        Kind("b", "Bin", "Bins", _bins, ("name",), _facts_of_bin, "stock_place"),
        Kind("i", "Item", "Items", _items, ("code", "description", "group"), _facts_of_item, "stock_item"),
        Kind("r", "Reel", "Reels", _reels, ("tag", "cable__code"), _facts_of_reel, "reel"),
    )
}
CODE = re.compile(rf"([{''.join(KINDS)}])(\d{{1,18}})")
ADDRESS = re.compile(rf"/([-\w]+)/t/({CODE.pattern})/?$")


@dataclass(frozen=True, slots=True)
class Thing:
    """A thing of a site that can have a label."""

    kind: Kind
    row: Any
    site: Site

    @property
    def code(self) -> str:
        """What stands for it in addresses."""
        return f"{self.kind.letter}{self.row.pk}"

    @property
    def tag(self) -> str:
        """What it is called on its label."""
        return str(self.row.tag)

    @property
    def facts(self) -> dict[str, str]:
        """What else is said of it, by name."""
        return {name: value for name, value in self.kind.facts(self.row, self.site).items() if value}

    @property
    def words(self) -> str:
        """What else is said of it, in one line."""
        return " · ".join(self.facts.values())

    @property
    def address(self) -> str:
        """The address that its label shows, without the server's name."""
        return reverse("labelled", args=[self.site.slug, self.code])

    def page_for(self, roles: frozenset[str]) -> str:
        """Return the address of its page for who has `roles`: what its label says where there is no other."""
        permission = _permission_of(self.kind)
        if permission is None or not may(roles, permission):
            return reverse("label", args=[self.site.slug, self.code])
        return reverse(self.kind.page, args=[self.site.slug, *(getattr(self.row, part) for part in self.kind.parts)])


def things(site: Site, kind: Kind, *, q: str = "", keys: tuple[int, ...] = ()) -> QuerySet[Any]:
    """Return the rows of a kind with all words of `q` in them, those of `keys` only where some are given."""
    rows = kind.rows(site)
    for word in q.split():
        found = Q()
        for column in kind.searched:
            found |= Q(**{f"{column}__icontains": word})
        rows = rows.filter(found)
    return rows.filter(pk__in=keys) if keys else rows


def thing_of(site: Site, code: str) -> Thing | None:
    """Return what a code stands for on a site, or None."""
    parts = CODE.fullmatch(code)
    if parts is None:
        return None
    kind = KINDS[parts[1]]
    row = kind.rows(site).filter(pk=int(parts[2])).first()
    return Thing(kind, row, site) if row else None


def read(site: Site, text: str) -> list[Thing]:
    """Return what a person or a scanner may mean: the one thing of an address, or all things that have the tag."""
    address = ADDRESS.search(text)
    if address:
        found = thing_of(site, address[2]) if address[1] == site.slug else None
        return [found] if found else []
    return list(_tagged(site, plain(text)))


def _tagged(site: Site, tag: str) -> Iterator[Thing]:
    for kind in KINDS.values():
        same = Q(folded=folded(tag)) if kind.letter == "b" else Q(tag__iexact=tag)
        for row in kind.rows(site).filter(same):
            yield Thing(kind, row, site)


@cache
def _permission_of(kind: Kind) -> Permission | None:
    """Return what a kind's page needs, or None while there is no such page."""
    try:
        access = access_of(resolve(reverse(kind.page, args=["x", *([1] * len(kind.parts))])).func)
    except NoReverseMatch:
        return None
    return access.permission if access else None

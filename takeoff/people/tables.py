"""What every list of a site shares: its caption, what it says when empty, numbers to the right, links to pages."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from takeoff.people.permissions import SiteRequest
from takeoff.sites.models import Site
from takeoff.templatetags.shown import quantity, site_length

PER_PAGE = 50


def cells(*classes: str) -> dict[str, dict[str, str]]:
    """
    Return what a column's head and cells are.

    number : to the right. On a phone, where a row is a few lines: named leads it, figure stands at its end, told has a
    line of its own and bare no label; roomy is left out.
    """
    return {part: {"class": " ".join(classes)} for part in ("th", "td")}


NUMBER = cells("number")


class SiteTable(tables.Table):
    """
    A list of one site.

    caption : names it for those who hear the page. many : it has so many columns that a tablet shows it as cards, too.
    """

    caption = ""
    many = False

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = site

    def link(self, page: str, key: int, text: object) -> SafeString:
        """Return a link to a page of the site."""
        return format_html('<a href="{}">{}</a>', reverse(page, args=[self.site.slug, key]), text)


class QuantityColumn(tables.Column):
    """A quantity, to the right."""

    def __init__(self, *classes: str, **kwargs: Any) -> None:
        super().__init__(attrs=cells("number", *classes), **kwargs)

    def render(self, value: Any) -> str:
        """Return the quantity as people read it."""
        return quantity(value)


class LengthColumn(tables.Column):
    """A length in the site's unit, to the right."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(attrs=NUMBER, **kwargs)

    def render(self, value: Any, table: SiteTable) -> str:
        """Return the length as the site writes it."""
        return site_length(value, table.site)


def shown_page(request: SiteRequest, table: SiteTable) -> SiteTable:
    """Return the table sorted and cut to the page that the address asks for."""
    tables.RequestConfig(request, paginate={"per_page": PER_PAGE}).configure(table)
    return table

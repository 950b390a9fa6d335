"""Which pages a phone keeps, so that they open without signal. Rooms say which are theirs."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from takeoff.sites.models import Site

Pages = Callable[[Site, frozenset[str]], Iterable[str]]
MOST_PAGES = 300
_rooms: list[Pages] = []


def keep_on_phones(pages: Pages) -> None:
    """Let phones keep pages: `pages` returns their addresses on a site for members with some roles."""
    _rooms.append(pages)


def pages_to_keep(site: Site, roles: frozenset[str]) -> list[str]:
    """Return the addresses that a phone keeps, those needed first first."""
    found = dict.fromkeys(url for pages in _rooms for url in pages(site, roles))
    return list(found)[:MOST_PAGES]

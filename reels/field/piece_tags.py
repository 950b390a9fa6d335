"""Tags that are proposed for what comes off a reel: R-101-P1 for a piece that failed, R-101-A for a remnant."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain, count

from reels.ledger.entries import ReelEntry
from reels.ledger.models import Reel
from takeoff.database.folding import folded
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks


def tag_for_piece(site: Site, reel: Reel) -> str:
    """Return a tag that no reel has yet for a piece of a cut that failed."""
    return _first_free(site, reel, (f"P{number}" for number in count(1)))


def tag_for_remnant(site: Site, reel: Reel) -> str:
    """Return a tag that no reel has yet for what comes off a reel at the end."""
    letters = (chr(ord("A") + number) for number in range(26))
    return _first_free(site, reel, chain(letters, (str(number) for number in count(1))))


def is_worth_keeping(entry: ReelEntry) -> bool:
    """Return whether what is left on a reel is a remnant, and no scrap."""
    return entry.left >= to_ticks(entry.reel.site.keep_length)


def _first_free(site: Site, reel: Reel, ends: Iterable[str]) -> str:
    used = Reel.objects.of(site).filter(tag__istartswith=f"{reel.tag}-").values_list("tag", flat=True)
    taken = {folded(tag) for tag in used}
    tags: Iterator[str] = (f"{reel.tag}-{end}" for end in ends)
    return next(tag for tag in tags if folded(tag) not in taken)

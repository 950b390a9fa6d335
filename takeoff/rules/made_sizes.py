"""What is made for a run, as whoever makes it must know it: the sizes of its seals, the marks of its sections."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection

from takeoff.rules.engine.rows import SEAL_LIKE
from takeoff.rules.models import Rule
from takeoff.rules.queries import current_book
from takeoff.runs.models import Crossing, RunEnd, Section
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks
from takeoff.units.shown import near


def made_sizes(site: Site, items: Collection[int]) -> dict[tuple[int, int], str]:
    """
    Return what is to be told of each item (by key) that is made for a run (by key), in the site's unit, in order.

    An item that rules count on seals has the width and height of each seal of the run; one that sections name has
    their marks. Five queries, none where nothing is made for runs.
    """
    if not items:
        return {}
    found: dict[tuple[int, int], list[str]] = defaultdict(list)
    for item, run, mark in (
        Section.objects.of(site).filter(item__in=items).exclude(mark="").order_by("run", "seq")
    ).values_list("item_id", "run_id", "mark"):
        if item is not None:
            found[item, run].append(mark)
    on_seals = set(
        Rule.objects.of(site)
        .filter(book=current_book(site), item__in=items, counted_on__in=SEAL_LIKE)
        .values_list("item_id", flat=True)
    )
    seals = defaultdict(list)
    ends = RunEnd.objects.of(site).exclude(seal=RunEnd.Seal.NONE).order_by("run", "end")
    crossings = Crossing.objects.of(site).exclude(seal=RunEnd.Seal.NONE).order_by("run", "at")
    for rows in (ends.values_list("run", "seal_width", "seal_height"), crossings.values_list("run", "width", "height")):
        for run, width, height in rows if on_seals else ():
            if width and height:
                told = (near(to_ticks(length), site.unit) for length in (width, height))
                seals[run].append(" × ".join(told))
    for item in on_seals:
        for run, sizes in seals.items():
            found[item, run] += sizes
    return {key: ", ".join(dict.fromkeys(told)) for key, told in found.items()}

"""What is to be asked before a length comes off a reel, beyond what the books say of the record."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reels.ledger.entries import ReelEntry
from reels.ledger.models import Reel
from reels.ledger.queries import conductor_entries
from reels.plans.queries import CutLine, ReelCutList
from takeoff.runs.models import Conductor
from takeoff.runs.queries import length_standings
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks
from takeoff.units.shown import up


def stops(reel: Reel) -> str:
    """Return why nothing is cut off a reel on a page, with the way out; empty when it can be."""
    if reel.state == Reel.State.RETURNED:
        return "It was returned to the supplier. If it is here, say so first: its state is wrong."
    return ""


def asks_before(site: Site, entry: ReelEntry, listed: ReelCutList | None, conductor: Conductor | None) -> list[str]:
    """Return what a person should look at before a cut for a conductor is kept."""
    return [] if conductor is None else list(_asks(site, entry, listed, conductor))


def _asks(site: Site, entry: ReelEntry, listed: ReelCutList | None, conductor: Conductor) -> Iterator[str]:
    standing = length_standings(site, {conductor.run_id})[conductor.run_id]
    if not standing.may_be_cut:
        yield f"{conductor.run} is drawn, not measured: its length may turn out otherwise."
    (wanted,) = conductor_entries(site, conductors=Conductor.objects.of(site).filter(pk=conductor.pk))
    if wanted.is_cut:
        cut = wanted.cuts[0]
        yield f"{conductor} is cut already: off {cut.reel}, {site.local_date(cut.at):%-d %b}."
    planned = [line for line in (listed.to_do if listed else ()) if line.planned.conductor_id != conductor.pk]
    left = entry.usable - to_ticks(conductor.length)
    robbed = _no_longer_fits(planned, left)
    if robbed is not None and not _is_planned(listed, conductor):
        yield f"Then {robbed.planned.conductor}, {up(robbed.need, site.unit)}, has no reel."


def _is_planned(listed: ReelCutList | None, conductor: Conductor) -> bool:
    return listed is not None and any(line.planned.conductor_id == conductor.pk for line in listed.lines)


def _no_longer_fits(planned: Sequence[CutLine], left: int) -> CutLine | None:
    """Return the first planned length that what is left does not hold any more. left : [ticks]"""
    for line in planned:
        left -= line.need
        if left < 0:
            return line
    return None

"""What the page of one reel shows: the strip in marks and the same in words, what is left, what comes next, history."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Q

from reels.field.left_checks import LengthCheck, checks_of, weights_for_lifting
from reels.field.marks_strip import draw_stretches, scale_in_marks
from reels.field.reel_history import HistoryLine, history_of
from reels.field.reel_parts import ReelPart, parts_of
from reels.field.where_to_cut import ToldCut, where_to_cut
from reels.ledger.entries import ReelEntry
from reels.ledger.models import Cut, Reel
from reels.ledger.queries import hands_of, reel_entries
from reels.plans.pages.strips import Scale, StripBand, scale_of
from reels.plans.queries import CutLine, ReelCutList, reel_cut_list
from takeoff.runs.geometry.warnings import least_radius, radius_up
from takeoff.runs.queries import cable_facts
from takeoff.sites.models import Site
from takeoff.units.exact import SCALE, from_ticks, to_ticks
from takeoff.units.shown import fixed


@dataclass(frozen=True, slots=True)
class ReelPage:
    """
    What is known of a reel.

    parts, bands : its stretches in words and drawn to `scale`. no_place : cuts that have no place on it.
    factor : taped length over marks, "" until taped cuts prove it. listed : what the accepted plan cuts off it; how :
    where to cut the first of it. checks : other ways to know the length. most, reckoned : its weight for lifting.
    radius : the least that its cable bends to.
    """

    entry: ReelEntry
    parts: tuple[ReelPart, ...]
    bands: tuple[StripBand, ...]
    scale: Scale
    no_place: tuple[Cut, ...]
    factor: str
    listed: ReelCutList | None
    how: ToldCut | None
    checks: tuple[LengthCheck, ...]
    most: str
    reckoned: str
    radius: str
    pieces: tuple[Reel, ...]
    history: tuple[HistoryLine, ...]

    @property
    def next(self) -> CutLine | None:
        """What comes next by the accepted plan."""
        return next_of(self.listed)


def next_of(listed: ReelCutList | None) -> CutLine | None:
    """Return what comes next off a reel by the accepted plan."""
    return listed.to_cut[0] if listed and listed.to_cut else None


def find_reel(site: Site, reel_id: int) -> Reel | None:
    """Return a reel of the site, or None."""
    rows = Reel.objects.of(site).filter(pk=reel_id)
    return rows.select_related("site", "cable", "place", "parent", "withdrawn_from__cut").first()


def entry_of(site: Site, reel: Reel) -> ReelEntry:
    """Return a reel with its books."""
    (entry,) = reel_entries(site, reels=Reel.objects.of(site).filter(pk=reel.pk))
    return entry


def reel_page(site: Site, reel: Reel) -> ReelPage:
    """Return what the page of a reel shows, in a constant number of queries."""
    entry, listed = entry_of(site, reel), reel_cut_list(site, reel)
    pieces = _pieces(site, reel)
    stretches, parts = parts_of(entry, listed.to_cut if listed else (), pieces, hands_of(site))
    placed = {part.cut for part in parts if part.cut}
    scale, line = _scale(entry, site), next_of(listed)
    factor = entry.books.factor
    most, reckoned = weights_for_lifting(reel, entry.left)
    radius = least_radius(cable_facts(reel.cable))
    return ReelPage(
        entry=entry,
        parts=parts,
        bands=draw_stretches(stretches, scale),
        scale=scale,
        no_place=tuple(cut for cut in entry.cuts if cut not in placed),
        factor="" if factor is None else fixed(from_ticks(round(factor * SCALE)), 4),
        listed=listed,
        how=where_to_cut(site, entry, line.planned.conductor, line.need) if line else None,
        checks=checks_of(reel, Fraction(site.mark_allowance)),
        most=most,
        reckoned=reckoned,
        radius="" if radius is None else radius_up(radius, site.unit),
        pieces=pieces,
        history=history_of(site, reel),
    )


def _pieces(site: Site, reel: Reel) -> tuple[Reel, ...]:
    """Return what came off a reel and has a tag, what was taken back left out."""
    rows = Reel.objects.of(site).filter(parent=reel).select_related("withdrawn_from").order_by("tag")
    back = Q(events__taken_back__isnull=False) | Q(withdrawn_from__taken_back_by__isnull=False)
    return tuple(rows.exclude(back))


def _scale(entry: ReelEntry, site: Site) -> Scale:
    if entry.marks.has_marks:
        return scale_in_marks(entry.marks.mark_at(0), entry.marks.mark_at(max(entry.marks.span, entry.marks.held)))
    return scale_of([to_ticks(entry.reel.length)], unit=site.unit)

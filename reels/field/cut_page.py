"""What the page of one cut shows: the record as it was sent, both clocks, what was decided, and who may do what."""

from __future__ import annotations

from dataclasses import dataclass

from reels.field.piece_tags import tag_for_piece
from reels.field.reel_page import entry_of
from reels.ledger.models import Cut, CutDecision
from reels.ledger.queries import hands_of, standing_decisions
from takeoff.people.models import User
from takeoff.people.permissions import CUT, PLAN, may
from takeoff.records.models import Record
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks

Kind = CutDecision.Kind


@dataclass(frozen=True, slots=True)
class CutPage:
    """
    What is known of a cut.

    record : as it was sent. begins, ends : its marks as hands find them. length : by tape, else by marks and the
    reel's factor. [ticks] need : of its conductor. [ticks] overlaps : cuts that claim cable of this one. standing :
    what is decided and was not taken back.
    """

    cut: Cut
    record: Record | None
    begins: str
    ends: str
    length: int
    need: int
    decisions: tuple[CutDecision, ...]
    overlaps: tuple[Cut, ...]
    standing: frozenset[str]
    proposed_tag: str

    @property
    def reversed(self) -> bool:
        """Whether it was entered wrongly."""
        return Kind.REVERSED in self.standing

    @property
    def open(self) -> bool:
        """Whether it can still be withdrawn or reversed."""
        return not self.standing & {Kind.REVERSED, Kind.WITHDRAWN}

    @property
    def short_by(self) -> int:
        """What it lacks of what its conductor needs. [ticks]"""
        return max(0, self.need - self.length)


def find_cut(site: Site, cut_id: int) -> Cut | None:
    """Return a cut of the site, or None."""
    rows = Cut.objects.of(site).filter(pk=cut_id)
    return rows.select_related("reel__site", "reel__cable", "conductor__run", "recorded_by").first()


def cut_page(site: Site, cut: Cut) -> CutPage:
    """Return what the page of a cut shows, in a constant number of queries."""
    entry, hands = entry_of(site, cut.reel), hands_of(site)
    decisions = CutDecision.objects.of(site).filter(cut=cut).order_by("at", "pk")
    standing = frozenset(standing_decisions(site).filter(cut=cut).values_list("kind", flat=True))
    marks = ["", ""]
    if cut.outer_mark is not None and cut.inner_mark is not None:
        marks = [hands.told(to_ticks(mark), entry.marks) for mark in (cut.outer_mark, cut.inner_mark)]
    others = {each.event_id: each for each in entry.cuts if each.event_id != cut.event_id}
    disputes = [each for each in entry.books.disputes if cut.event_id in {each.first, each.second}]
    return CutPage(
        cut=cut,
        record=Record.objects.of(site).filter(event_id=cut.event_id).first(),
        begins=marks[0],
        ends=marks[1],
        length=entry.books.lengths.get(cut.event_id, to_ticks(cut.length)),
        need=to_ticks(cut.conductor.length) if cut.conductor else 0,
        decisions=tuple(decisions.select_related("piece", "recorded_by", "taken_back_by", "takes_back")),
        overlaps=tuple(others[name] for each in disputes for name in (each.first, each.second) if name in others),
        standing=standing,
        proposed_tag=tag_for_piece(site, cut.reel),
    )


def may_reverse(user: User, roles: frozenset[str], cut: Cut) -> bool:
    """Return whether a person may say that a cut never happened: who recorded it, or a planner."""
    return may(roles, PLAN) or (may(roles, CUT) and cut.recorded_by_id == user.pk)


def may_undo(roles: frozenset[str], decision: CutDecision) -> bool:
    """Return whether one of `roles` may take a decision back: an acceptance is a planner's."""
    return may(roles, PLAN if decision.kind == Kind.ACCEPTED else CUT)

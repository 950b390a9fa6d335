"""What happened to one reel, newest first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import chain

from django.db.models import Q
from django.urls import reverse

from reels.field.reel_parts import cut_for
from reels.ledger.models import Cut, CutDecision, Reel, ReelEvent
from takeoff.people.models import User
from takeoff.sites.models import Site


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """Something that happened to a reel. sent_by : whose account; by : who did it. struck : taken back since."""

    at: datetime
    what: str
    url: str
    by: str = ""
    sent_by: str = ""
    struck: bool = False


def history_of(site: Site, reel: Reel) -> tuple[HistoryLine, ...]:
    """Return what happened to a reel, newest first."""
    cuts = Cut.objects.of(site).filter(reel=reel).select_related("conductor__run", "recorded_by")
    decided = CutDecision.objects.of(site).filter(cut__reel=reel)
    decided = decided.select_related("cut", "piece", "recorded_by", "taken_back_by", "takes_back")
    events = ReelEvent.objects.of(site).filter(Q(reel=reel) | Q(reel__parent=reel))
    events = events.select_related("recorded_by", "taken_back", "reel__parent")
    rows = sorted(
        chain(_of_cuts(site, cuts), _of_decisions(site, decided), _of_events(site, events)),
        key=lambda line: line.at,
        reverse=True,
    )
    return tuple(rows)


def _of_cuts(site: Site, cuts: Iterable[Cut]) -> Iterator[HistoryLine]:
    for cut in cuts:
        yield HistoryLine(cut.at, f"cut: {cut_for(cut)}", _url(site, cut), cut.by, _name(cut.recorded_by))


def _of_decisions(site: Site, decisions: Iterable[CutDecision]) -> Iterator[HistoryLine]:
    for one in decisions:
        back = one.takes_back is not None
        what = f"{one.cut}: {'taken back that it is ' if back else ''}{one.kind}"
        what += f", now {one.piece}" if one.piece else ""
        struck = getattr(one, "taken_back_by", None) is not None
        said = f"{what}. {one.reason}"
        yield HistoryLine(one.at, said, _url(site, one.cut), "", _name(one.recorded_by), struck)


def _of_events(site: Site, events: Iterable[ReelEvent]) -> Iterator[HistoryLine]:
    for event in events:
        remnant = event.reel.parent if event.before is None else None
        what = f"{event.reel} came off {remnant}" if remnant else f"{event.reel} came"
        back = "taken back: " if event.takes_back_id else ""
        said = ", ".join(filter(None, [f"{back}{what}", event.points, event.note]))
        struck = getattr(event, "taken_back", None) is not None
        yield HistoryLine(event.at, said, _reel_url(site, event.reel), event.by, _name(event.recorded_by), struck)


def _url(site: Site, cut: Cut) -> str:
    return reverse("cut", args=[site.slug, cut.pk])


def _reel_url(site: Site, reel: Reel) -> str:
    return reverse("reel", args=[site.slug, reel.pk])


def _name(user: User | None) -> str:
    return "" if user is None else str(user)

"""Cutting a reel, tagging what is left of it, and one cut with what is decided about it."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from reels.field.before_the_cut import asks_before, stops
from reels.field.cut_page import cut_page, find_cut, may_reverse, may_undo
from reels.field.forms import ActForm, CutForm
from reels.field.one_act import keep_act
from reels.field.piece_tags import is_worth_keeping, tag_for_remnant
from reels.field.reel_page import entry_of, find_reel
from reels.field.where_to_cut import where_to_cut
from reels.ledger.models import Cut, CutDecision, Reel
from reels.plans.queries import CutLine, reel_cut_list
from takeoff.people.permissions import CUT, PLAN, SEE, SiteRequest, may, needs
from takeoff.people.sending import post_only
from takeoff.sites.queries import offered_bins

Kind = CutDecision.Kind


@needs(CUT)
def cut_reel(request: SiteRequest, reel_id: int) -> HttpResponse:
    """Ask for one cut off a reel, telling where to cut; what was written comes back with what is to be asked."""
    reel = find_reel(request.site, reel_id)
    if reel is None:
        raise Http404("no such reel")
    entry, listed = entry_of(request.site, reel), reel_cut_list(request.site, reel)
    lines, every = (listed.to_do, listed.lines) if listed else ((), ())
    asked = request.POST.get("wanted") or request.GET.get("for") or (_key(lines[0]) if lines else "")
    line = next((each for each in lines if _key(each) == asked), None)
    form = CutForm(
        request.POST or None, entry=entry, lines=every, initial={"id": str(uuid4()), "wanted": asked, **_again(request)}
    )
    stop = stops(reel)
    if request.method == "POST" and not stop:

        def before() -> list[str]:
            return asks_before(request.site, entry, listed, form.conductor)

        if keep_act(request, form, before):
            return redirect("reel", request.site.slug, reel.pk)
    context = {
        "reel": reel,
        "entry": entry,
        "lines": lines,
        "line": line,
        "how": line and where_to_cut(request.site, entry, line.planned.conductor, line.need),
        "form": form,
        "stop": stop,
    }
    return render(request, "reels/field/cut_reel.html", context, status=422 if request.method == "POST" else 200)


@needs(CUT)
def tag_remnant(request: SiteRequest, reel_id: int) -> HttpResponse:
    """Give what is left on a reel a tag of its own as it comes off, and lead to its label."""
    reel = find_reel(request.site, reel_id)
    if reel is None:
        raise Http404("no such reel")
    form = ActForm(
        request.POST or None,
        site=request.site,
        kind="remnants",
        known={"reel": reel.tag},
        initial={"id": str(uuid4()), "tag": tag_for_remnant(request.site, reel)},
    )
    if request.method == "POST" and keep_act(request, form):
        piece = Reel.objects.of(request.site).get(tag=form.row["tag"])
        return redirect("reel", request.site.slug, piece.pk)
    entry = entry_of(request.site, reel)
    context = {"reel": reel, "entry": entry, "form": form, "bins": offered_bins(request.site)}
    context["kept"] = is_worth_keeping(entry)
    return render(request, "reels/field/remnant.html", context, status=422 if request.method == "POST" else 200)


@needs(SEE)
def cut(request: SiteRequest, cut_id: int) -> HttpResponse:
    """Show one cut: the record as it was sent, both clocks, what was decided about it."""
    return _page(request, _cut(request, cut_id))


@needs(CUT)
@post_only("cut", "cut_id")
def withdraw(request: SiteRequest, cut_id: int) -> HttpResponse:
    """Say that a cut failed: the need is open again, the cable is a tagged piece or scrap."""
    found = _cut(request, cut_id)
    return _kept_or_page(request, found, "withdraw", _decision_form(request, found, Kind.WITHDRAWN, request.POST))


@needs(PLAN)
@post_only("cut", "cut_id")
def accept(request: SiteRequest, cut_id: int) -> HttpResponse:
    """Accept a cut that is shorter than needed and can still be terminated."""
    found = _cut(request, cut_id)
    return _kept_or_page(request, found, "accept", _decision_form(request, found, Kind.ACCEPTED, request.POST))


@needs(CUT)
@post_only("cut", "cut_id")
def reverse_cut(request: SiteRequest, cut_id: int) -> HttpResponse:
    """Say that a cut was entered wrongly and never happened; on to entering it anew, where that is asked for."""
    found = _cut(request, cut_id)
    if not may_reverse(request.user, request.roles, found):
        raise PermissionDenied("Who recorded a cut takes it back, or a planner.")
    form = _reversal_form(request, found.event_id, request.POST)
    if keep_act(request, form):
        if "anew" in request.POST:
            response = redirect("cut_reel", request.site.slug, found.reel_id)
            response["Location"] += f"?again={found.pk}"
            return response
        return redirect("cut", request.site.slug, found.pk)
    return _page(request, found, reverse=form)


@needs(CUT)
@post_only("cut", "cut_id")
def undo_decision(request: SiteRequest, cut_id: int) -> HttpResponse:
    """Take back what was decided about a cut."""
    found = _cut(request, cut_id)
    rows = CutDecision.objects.of(request.site).filter(cut=found, takes_back=None).exclude(kind=Kind.REVERSED)
    decision = get_object_or_404(rows, event_id=request.POST.get("decision", ""))
    if not may_undo(request.roles, decision):
        raise PermissionDenied("What a planner accepted, a planner takes back.")
    return _kept_or_page(request, found, "undo", _reversal_form(request, decision.event_id, request.POST))


def _kept_or_page(request: SiteRequest, found: Cut, name: str, form: ActForm) -> HttpResponse:
    """Keep what a form says and show the cut; or the cut with the form as it was written, and what is wrong."""
    if keep_act(request, form):
        return redirect("cut", request.site.slug, found.pk)
    return _page(request, found, **{name: form})


def _page(request: SiteRequest, found: Cut, **forms: ActForm) -> HttpResponse:
    page = cut_page(request.site, found)
    cuts, plans = may(request.roles, CUT), may(request.roles, PLAN)
    offered: dict[str, ActForm] = {}
    if page.open and cuts:
        offered["withdraw"] = _decision_form(request, found, Kind.WITHDRAWN, None, page.proposed_tag)
    if page.open and plans and found.conductor and page.short_by and Kind.ACCEPTED not in page.standing:
        offered["accept"] = _decision_form(request, found, Kind.ACCEPTED, None)
    if page.open and may_reverse(request.user, request.roles, found):
        offered["reverse"] = _reversal_form(request, found.event_id, None)
    undoing = {
        one.pk: forms.get("undo") or _reversal_form(request, one.event_id, None)
        for one in page.decisions
        if one.takes_back is None
        and one.kind != Kind.REVERSED
        and getattr(one, "taken_back_by", None) is None
        and may_undo(request.roles, one)
    }
    context: dict[str, Any] = {"page": page, "cut": found, "offered": offered | forms, "undoing": undoing}
    return render(request, "reels/field/cut.html", context, status=422 if forms else 200)


def _decision_form(request: SiteRequest, found: Cut, kind: str, data: Any, tag: str = "") -> ActForm:
    known = {"cut": found.event_id, "decision": str(kind)}
    leave_out = ("piece_tag",) if kind == Kind.ACCEPTED else ()
    initial = {"id": str(uuid4()), "piece_tag": tag}
    return ActForm(
        data,
        site=request.site,
        kind="cut_decisions",
        known=known,
        leave_out=leave_out,
        initial=initial,
        auto_id=f"{kind}-%s",
    )


def _reversal_form(request: SiteRequest, event_id: str, data: Any) -> ActForm:
    return ActForm(
        data,
        site=request.site,
        kind="reversals",
        known={"reverses": event_id},
        initial={"id": str(uuid4())},
        auto_id=f"back-{event_id}-%s",
    )


def _again(request: SiteRequest) -> dict[str, Any]:
    """Return what a cut that was reversed said, for the form in which it is recorded anew."""
    again = request.GET.get("again", "")
    before = find_cut(request.site, int(again)) if again.isascii() and again.isdigit() and len(again) < 18 else None
    if before is None:
        return {}
    said = {"by": before.by, "at": f"{before.at.astimezone(request.site.tz):%Y-%m-%dT%H:%M}"}
    if before.conductor:
        return said | {"wanted": "other", "run": before.conductor.run.name, "conductor": before.conductor.name}
    return said | {"wanted": before.purpose}


def _key(line: CutLine) -> str:
    return str(line.planned.conductor_id)


def _cut(request: SiteRequest, cut_id: int) -> Cut:
    found = find_cut(request.site, cut_id)
    if found is None:
        raise Http404("no such cut")
    return found

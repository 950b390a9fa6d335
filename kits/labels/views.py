"""Labels: laid out for paper, and read again by a camera, a hand scanner or a person."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render

from kits.labels.forms import FindForm, PaperForm, ThingsForm
from kits.labels.labelled import KINDS, Thing, read, thing_of, things
from kits.labels.paper.papers import PAPERS, drawn, on_pages
from takeoff.people.permissions import SEE, STORE, SiteRequest, may, needs

MOST_LISTED = 100
MOST_PRINTED = 500
LONGEST_KEY = 18  # digits


@needs(SEE)
def labelled(request: SiteRequest, code: str) -> HttpResponse:
    """Lead from the address on a label to the page of what it hangs on."""
    return redirect(_found(request, code).page_for(request.roles))


@needs(SEE)
def label(request: SiteRequest, code: str) -> HttpResponse:
    """Show what a label says."""
    context = {"thing": _found(request, code), "prints": may(request.roles, STORE)}
    return render(request, "kits/labels/label.html", context)


@needs(SEE)
def find(request: SiteRequest) -> HttpResponse:
    """Take what a scanner typed, an address or a tag, and lead there; where a tag is of several things, show them."""
    form = FindForm(request.GET if "q" in request.GET else None)
    if not form.is_valid():
        return render(request, "kits/labels/find.html", {"form": form}, status=422 if form.errors else 200)
    found = [(thing, thing.page_for(request.roles)) for thing in read(request.site, form.cleaned_data["q"])]
    if len(found) == 1:
        return redirect(found[0][1])
    return render(request, "kits/labels/find.html", {"form": form, "found": found}, status=200 if found else 404)


@needs(STORE)
def labels(request: SiteRequest) -> HttpResponse:
    """Choose what to print labels for, and on which paper."""
    asked = ThingsForm({"kind": next(iter(KINDS)), **request.GET.dict()})
    return _choosing(request, asked, PaperForm(initial=request.GET.dict() or None))


@needs(STORE)
def printed(request: SiteRequest) -> HttpResponse:
    """Lay out labels for paper: of what was ticked, or of all that the search finds."""
    asked, paper_form = ThingsForm(request.GET), PaperForm(request.GET)
    if not (asked.is_valid() and paper_form.is_valid()):
        return _choosing(request, asked, paper_form)
    kind, paper = KINDS[asked.cleaned_data["kind"]], PAPERS[paper_form.cleaned_data["paper"]]
    rows = things(request.site, kind, q=asked.cleaned_data["q"], keys=_ticked(request))[: MOST_PRINTED + 1]
    found = [Thing(kind, row, request.site) for row in rows]
    if not 0 < len(found) <= MOST_PRINTED:
        most = f"At most {MOST_PRINTED} labels at once. Search, or tick some."
        paper_form.add_error(None, most if found else "There is nothing to print.")
        return _choosing(request, asked, paper_form)
    where = f"{kind.name} · {request.site}"
    texts = [
        (
            thing,
            drawn(
                paper.form,
                address=request.build_absolute_uri(thing.address),
                tag=thing.tag,
                words=(thing.words, where),
            ),
        )
        for thing in found
    ]
    first = paper_form.cleaned_data["first"] if paper.places > 1 else 1
    context = {"paper": paper, "count": len(found), "pages": on_pages(texts, paper.places, first)}
    return render(request, "kits/labels/printed.html", context)


def _choosing(request: SiteRequest, asked: ThingsForm, paper_form: PaperForm) -> HttpResponse:
    rows, kind = [], KINDS[next(iter(KINDS))]
    total = 0
    if asked.is_valid():
        kind = KINDS[asked.cleaned_data["kind"]]
        wanted = things(request.site, kind, q=asked.cleaned_data["q"])
        total = wanted.count()
        rows = [Thing(kind, row, request.site) for row in wanted[:MOST_LISTED]]
    context = {
        "asked": asked,
        "paper_form": paper_form,
        "kind": kind,
        "things": rows,
        "total": total,
        "ticked": _ticked(request),
    }
    status = 422 if asked.errors or paper_form.errors else 200
    return render(request, "kits/labels/labels.html", context, status=status)


def _ticked(request: SiteRequest) -> tuple[int, ...]:
    """Return the keys of what was ticked."""
    return tuple(int(key) for key in request.GET.getlist("thing") if key.isdecimal() and len(key) <= LONGEST_KEY)


def _found(request: SiteRequest, code: str) -> Thing:
    found = thing_of(request.site, code)
    if found is None:
        raise Http404("no such label here")
    return found

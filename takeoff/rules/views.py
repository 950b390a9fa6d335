"""The rule book: the current one, earlier versions, and the book as a sheet to change."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from takeoff.people.permissions import PLAN, SEE, SiteRequest, may, needs
from takeoff.rules import pages

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@needs(SEE)
def rules(request: SiteRequest, version: int | None = None) -> HttpResponse:
    """Show a rule book, the current one unless a version is asked for, and all versions."""
    books = list(pages.books(request.site))
    current = books[0] if books else None
    if version is not None:
        current = get_object_or_404(pages.books(request.site), version=version)
    shown = pages.book_shown(request.site, current) if current else None
    context = {"books": books, "shown": shown, "plan": may(request.roles, PLAN)}
    return render(request, "takeoff/rules/rules.html", context)


@needs(SEE)
def book_sheet(request: SiteRequest, version: int) -> HttpResponse:
    """Give out a rule book as a sheet that can be changed and loaded."""
    book = get_object_or_404(pages.books(request.site), version=version)
    response = HttpResponse(pages.book_as_sheet(request.site, book), content_type=XLSX)
    response["Content-Disposition"] = f'attachment; filename="rules-{version}.xlsx"'
    return response

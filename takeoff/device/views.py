"""What a phone asks for to work without signal: its worker, its queue's page, which pages to keep, a fresh token."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone

from takeoff.device.kept_pages import pages_to_keep
from takeoff.people.permissions import SEE, SiteRequest, machine, needs, public

ASSETS = ("reelkeep.css", "mark.svg", "device.js", "marks.js", "stand.js")


@public
def queue(request: HttpRequest) -> HttpResponse:
    """Show what waits on this device: the page holds nothing of the server's, its script fills it."""
    return render(request, "takeoff/device/queue.html", {"site": None})


@public
def worker(request: HttpRequest) -> HttpResponse:
    """Return the service worker, for the whole of the server's addresses."""
    context = {"version": _version(), "assets": [*map(static, ASSETS), reverse("device_queue")]}
    answer = render(request, "takeoff/device/worker.js", context, content_type="text/javascript")
    answer["Service-Worker-Allowed"] = "/"
    answer["Cache-Control"] = "no-cache"
    return answer


@public
def manifest(request: HttpRequest) -> JsonResponse:
    """Return what a phone shows when the site is put on its first screen."""
    icon = {"src": static("mark.svg"), "type": "image/svg+xml", "sizes": "any"}
    look = {"display": "standalone", "background_color": "#22312c", "theme_color": "#22312c"}
    return JsonResponse(
        {"name": "Reelkeep", "short_name": "Reelkeep", "start_url": "/", "scope": "/", "icons": [icon], **look},
        content_type="application/manifest+json",
    )


@public
def token(request: HttpRequest) -> JsonResponse:
    """Return a fresh token for sending: pages that a phone has kept hold an old one."""
    answer = JsonResponse({"token": get_token(request)})
    answer["Cache-Control"] = "no-store"
    return answer


@machine
@needs(SEE)
def pages(request: SiteRequest) -> JsonResponse:
    """Return the addresses of the pages that this member's phone keeps."""
    return JsonResponse({"as_of": timezone.now().isoformat(), "pages": pages_to_keep(request.site, request.roles)})


@cache
def _version() -> str:
    """Return what changes whenever one of the files does that a phone keeps."""
    found = hashlib.sha256()
    for name in ASSETS:
        path = finders.find(name)
        assert isinstance(path, str)  # it is one of ours
        found.update(Path(path).read_bytes())
    return found.hexdigest()[:12]

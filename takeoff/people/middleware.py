"""The one gate that every page passes: who is asking, of which site, and may they."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import ImproperlyConfigured, PermissionDenied
from django.http import Http404, HttpRequest, HttpResponseBase, JsonResponse
from django.utils import timezone

from takeoff.people.permissions import access_of, may
from takeoff.people.queries import membership
from takeoff.units.shown import write_as_in, written_as_in

SITE = "site_slug"


class SiteMiddleware:
    """
    Let a request through to its view only when the view's mark allows it.

    A view of a site takes its address part `site_slug`, which is used up here: the view reads `request.site` and
    `request.roles` instead. Raises ImproperlyConfigured for a view that names no permission.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Pass the request on; the work is done once its view is known."""
        with timezone.override(None), written_as_in(""):
            return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], _args: list[Any], kwargs: dict[str, Any]
    ) -> HttpResponseBase | None:
        """Refuse, ask to sign in, or put the site on the request and go on."""
        access = access_of(view)
        if access is None or (access.permission is None) != (SITE not in kwargs):
            raise ImproperlyConfigured(f"{view!r} names no permission that fits its address {request.path}")
        if access.signed_in and not request.user.is_authenticated:
            if access.machine:
                return JsonResponse({"error": "Sign in first; nothing was kept."}, status=401)
            return redirect_to_login(request.get_full_path())
        if access.permission is None:
            return None
        found = membership(request.user, kwargs.pop(SITE))
        if found is None:
            if access.machine:
                return JsonResponse({"error": "There is no such site for you; nothing was kept."}, status=404)
            raise Http404("no such page")
        if not may(found.roles, access.permission):
            raise PermissionDenied(f"Your role here may not {access.permission.does}.")
        # Every time that a page of the site tells is the site's, and its numbers are written as there.
        timezone.activate(found.site.tz)
        if not access.machine:
            write_as_in(found.site.country)
        request.site = found.site  # type: ignore[assignment]  # see SiteRequest
        request.roles = found.roles  # type: ignore[attr-defined]
        return None

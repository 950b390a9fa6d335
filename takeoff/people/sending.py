"""Addresses that only take what a form sends, where to go when somebody opens one instead, and where to go after."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TypeVar

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

View = TypeVar("View", bound=Callable[..., HttpResponse])


def post_only(page: str, *parts: str) -> Callable[[View], View]:
    """
    Let a view take POST only, and send whoever opens its address to the page that it belongs to.

    An address is opened so after signing in again, or after choosing a look on the page of a refused form. page : the
    name of the page, of the same site where the view is of one. parts : which parts of the view's own address the
    page's takes, in its order. Other methods are answered 405.
    """

    def marked(view: View) -> View:
        sent = require_POST(view)

        @wraps(view)
        def answered(request: HttpRequest, **kwargs: object) -> HttpResponse:
            if request.method not in {"GET", "HEAD"}:
                return sent(request, **kwargs)
            site = getattr(request, "site", None)
            of_site = [site.slug] if site else []
            return redirect(page, *of_site, *(kwargs[part] for part in parts))

        return answered  # type: ignore[return-value]  # takes what the view takes

    return marked


def way_back(request: HttpRequest, otherwise: str) -> str:
    """Return the page of ours that a form wants to see `next`, or another."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return wanted if ours else otherwise

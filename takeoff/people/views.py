"""Signing in and out, choosing a site, joining one, and its members."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import login, logout
from django.contrib.auth.views import LoginView, PasswordChangeView
from django.forms import BaseForm
from django.http import (
    Http404,
    HttpRequest,
    HttpResponse,
    HttpResponseBase,
    HttpResponseRedirect,
    JsonResponse,
    QueryDict,
)
from django.shortcuts import redirect, render
from django.urls import reverse, reverse_lazy
from django.views.csrf import csrf_failure
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.generic import FormView

from takeoff.people import queries
from takeoff.people.forms import InviteForm, JoinForm, PasswordForm, RolesForm, SignInForm
from takeoff.people.models import User
from takeoff.people.permissions import MEMBERS, SiteRequest, access_of, needs, public, signed_in
from takeoff.people.sending import post_only, way_back
from takeoff.people.services import (
    INVITATION_DAYS,
    MembershipError,
    change_roles,
    invitation_from,
    invitation_token,
    invite,
    join,
    withdraw_invitation,
)

THEMES = ("auto", "light", "dark")


class Refusing(FormView):
    """Answers a refused form with 422, as every page does."""

    def form_invalid(self, form: BaseForm) -> HttpResponse:
        """Show the form again with what is wrong."""
        response = super().form_invalid(form)
        response.status_code = 422
        return response


class SignIn(Refusing, LoginView):
    """Sign in."""


class ChangePassword(Refusing, PasswordChangeView):
    """Change one's own password."""


sign_in = public(
    SignIn.as_view(
        template_name="takeoff/people/sign_in.html",
        authentication_form=SignInForm,
        redirect_authenticated_user=True,
        extra_context={"site": None},  # Django's own view would name the host here, the templates mean a site
    )
)

change_password = signed_in(
    ChangePassword.as_view(
        form_class=PasswordForm, template_name="takeoff/people/password.html", success_url=reverse_lazy("home")
    )
)


@public
@post_only("home")
def sign_out(request: HttpRequest) -> HttpResponse:
    """End the person's session."""
    logout(request)
    return redirect("sign_in")


@public
@post_only("home")
def theme(request: HttpRequest) -> HttpResponse:
    """Keep the chosen light or dark look on this device, and go back to the page."""
    chosen = request.POST.get("theme", "")
    response = HttpResponseRedirect(way_back(request, reverse("home")))
    if chosen in THEMES:
        response.set_cookie("theme", chosen, max_age=365 * 24 * 3600, samesite="Lax", secure=request.is_secure())
    return response


@signed_in
def home(request: HttpRequest) -> HttpResponse:
    """Show the person's sites; one only is opened at once."""
    found = queries.memberships(_user(request))
    if len(found) == 1 and "choose" not in request.GET:
        return redirect("today", found[0].site.slug)
    rows = [(entry.site, queries.role_names(entry.roles)) for entry in found]
    return render(request, "takeoff/people/sites.html", {"rows": rows})


@public
@never_cache
@sensitive_post_parameters("password", "again")
def invited(request: HttpRequest, token: str) -> HttpResponse:
    """Let the holder of an invitation's link join the site, with a new name or the one signed in with."""
    try:
        invitation = invitation_from(token)
    except MembershipError as error:
        return render(request, "takeoff/people/no_invitation.html", {"why": str(error)}, status=410)
    known = request.user if isinstance(request.user, User) else None
    if known is None and User.objects.filter(username=invitation.email).exists():
        return redirect(f"{reverse('sign_in')}?next={request.path}")
    form = JoinForm(_sent(request), email=invitation.email)
    if request.method == "POST" and (known or form.is_valid()):
        values = {} if known else {"password": form.cleaned_data["password"], "name": form.cleaned_data["name"]}
        try:
            user = join(invitation=invitation, user=known, **values)
        except MembershipError as error:
            return render(request, "takeoff/people/no_invitation.html", {"why": str(error)}, status=410)
        if known is None:
            login(request, user, backend="django.contrib.auth.backends.ModelBackend")
        return redirect("today", invitation.site.slug)
    roles = queries.role_names(invitation.roles)
    context = {"invitation": invitation, "roles": roles, "form": form}
    return render(request, "takeoff/people/join.html", context, status=422 if form.errors else 200)


@needs(MEMBERS)
def members(request: SiteRequest) -> HttpResponse:
    """Show who belongs to the site, and invite a person by a link."""
    form = InviteForm(_sent(request))
    link = ""
    if request.method == "POST" and form.is_valid():
        invitation = invite(site=request.site, invited_by=request.user, **form.cleaned_data)
        link = request.build_absolute_uri(reverse("invited", args=[invitation_token(invitation)]))
        form = InviteForm()
    invitations = [(row, queries.role_names(row.roles)) for row in queries.open_invitations(request.site)]
    context = {
        "people": queries.people(request.site),
        "invitations": invitations,
        "form": form,
        "link": link,
        "days": INVITATION_DAYS,
    }
    return render(request, "takeoff/people/members.html", context, status=422 if form.errors else 200)


@needs(MEMBERS)
def member(request: SiteRequest, user_id: int) -> HttpResponse:
    """Change what a member may do, or take the person off the site."""
    person = next((row for row in queries.people(request.site) if row.user.pk == user_id), None)
    if person is None:
        raise Http404("no such member")
    form = RolesForm(_sent(request), initial={"roles": person.roles})
    if request.method == "POST" and form.is_valid():
        try:
            change_roles(site=request.site, user_id=user_id, roles=form.cleaned_data["roles"])
        except MembershipError as error:
            form.add_error("roles", str(error))
        else:
            stays = bool(form.cleaned_data["roles"])
            done = "has new roles" if stays else f"is no longer a member of {request.site}"
            messages.success(request, f"{person.user} {done}.")
            # Who has just given up the planner's role cannot go back to this page.
            keeps = user_id != request.user.pk or "planner" in form.cleaned_data["roles"]
            return redirect("members", request.site.slug) if keeps else redirect("home")
    context = {"person": person, "form": form}
    return render(request, "takeoff/people/member.html", context, status=422 if form.errors else 200)


@needs(MEMBERS)
@post_only("members")
def end_invitation(request: SiteRequest, invitation_id: int) -> HttpResponse:
    """Make an invitation's link useless."""
    withdraw_invitation(site=request.site, invitation_id=invitation_id)
    messages.success(request, "The invitation is withdrawn; its link no longer works.")
    return redirect("members", request.site.slug)


def csrf_failed(request: HttpRequest, reason: str = "") -> HttpResponseBase:
    """Answer a form or a script that carries no valid token; a script learns first whether it must sign in."""
    access = access_of(request.resolver_match.func) if request.resolver_match else None
    if access is None or not access.machine:
        return csrf_failure(request, reason=reason)
    if not request.user.is_authenticated:
        return JsonResponse({"error": "Sign in first; nothing was kept."}, status=401)
    return JsonResponse({"error": "The token is not valid; fetch a new one and send again."}, status=403)


def _sent(request: HttpRequest) -> QueryDict | None:
    """Return what a form sent, also when that is nothing at all; None when nobody sent one."""
    return request.POST if request.method == "POST" else None


def _user(request: HttpRequest) -> User:
    assert isinstance(request.user, User)
    return request.user

"""Every address of the project, walked by every role, by a stranger and by nobody."""

import re

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.test import Client, RequestFactory
from django.urls import URLPattern, URLResolver, get_resolver, path, resolve

from takeoff.models import Member, Site
from takeoff.people.middleware import SiteMiddleware
from takeoff.people.permissions import Access, access_of
from tests.factories.takeoff import SiteFactory, member

pytestmark = pytest.mark.django_db
ROLES = list(Member.Role.values)
# What stands in for the parts of an address; no row has the number, so a page that is let through may answer 404
# itself, which the marker below tells from the gate's.
FILLING = {"int": "987654321", "str": "x", "slug": "x", "path": "x", "uuid": "00000000-0000-4000-8000-000000000000"}


def patterns(entries=None, prefix=""):
    """Every address as (route, view)."""
    for entry in get_resolver().url_patterns if entries is None else entries:
        route = prefix + str(entry.pattern)
        if isinstance(entry, URLResolver):
            yield from patterns(entry.url_patterns, route)
        else:
            assert isinstance(entry, URLPattern)
            yield route, entry.callback


EVERY = list(patterns())
OF_SITES = [(route, view) for route, view in EVERY if "site_slug" in route]
OTHERS = [(route, view) for route, view in EVERY if "site_slug" not in route]


def address(route: str, slug: str = "") -> str:
    filled = re.sub(r"<slug:site_slug>", slug, route)
    return "/" + re.sub(r"<(\w+):\w+>", lambda match: FILLING[match[1]], filled)


def person(site: Site | None = None, *roles: str) -> Client:
    user = member(site, *roles)
    client = Client(raise_request_exception=False)
    client.force_login(user)
    return client


@pytest.fixture
def site():
    return SiteFactory(slug="here", name="Here")


@pytest.fixture
def reached(monkeypatch):
    """The views that the gate let through in this test; a view itself is not run."""
    found = []
    gate = SiteMiddleware.process_view

    def spied(self, request, view, args, kwargs):
        answer = gate(self, request, view, args, kwargs)
        if answer is None:
            found.append(request.path)
        return answer

    monkeypatch.setattr(SiteMiddleware, "process_view", spied)
    return found


def test_every_view_names_its_permission():
    for route, view in EVERY:
        access = access_of(view)
        assert isinstance(access, Access), f"{route} names no permission"
        assert (access.permission is not None) == ("site_slug" in route), route


@pytest.mark.parametrize("route", [route for route, _ in OF_SITES])
def test_nobody_is_asked_to_sign_in(route, site, client, reached):
    url = address(route, "here")
    for answer in (client.get(url), client.post(url)):
        if access_of(resolve(url).func).machine:
            assert (answer.status_code, answer["Content-Type"]) == (401, "application/json")
        else:
            assert answer.status_code == 302
            assert answer["Location"].startswith("/~/sign-in/?next=")
    assert not reached


@pytest.mark.parametrize("route", [route for route, _ in OF_SITES])
def test_a_stranger_finds_nothing(route, site, reached):
    elsewhere = SiteFactory(slug="there", name="There")
    client = person(elsewhere, *ROLES)
    url = address(route, "here")
    assert (client.get(url).status_code, client.post(url).status_code) == (404, 404)
    assert not reached
    nowhere = client.get(address(route, "no-such-site"))
    assert nowhere.status_code == 404, "a site that exists must look like one that does not"


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize(("route", "view"), OF_SITES, ids=[route for route, _ in OF_SITES])
def test_a_member_gets_what_the_role_may(route, view, role, site, reached):
    client = person(site, role)
    url = address(route, "here")
    allowed = role in access_of(view).permission.roles
    for answer in (client.get(url), client.post(url)):
        assert (answer.status_code == 403) != allowed, answer.status_code
        assert answer.status_code < 500
    assert access_of(view).machine or client.get(url).status_code != 405, "a browser shows nothing for it"
    assert bool(reached) == allowed


@pytest.mark.parametrize(("route", "view"), OTHERS, ids=[route or "home" for route, _ in OTHERS])
def test_pages_outside_sites_ask_for_a_name_unless_they_are_public(route, view, client):
    answer = client.get(address(route))
    assert answer.status_code != 405, "a browser shows nothing for it"
    if access_of(view).signed_in:
        assert answer.status_code == 302
        assert "/~/sign-in/" in answer["Location"]
    else:
        assert "/~/sign-in/?next" not in answer.get("Location", "")
        assert answer.status_code < 500


def test_a_view_without_a_mark_is_never_served(site):
    def forgotten(request):
        raise AssertionError("was served")

    gate = SiteMiddleware(lambda request: None)
    with pytest.raises(ImproperlyConfigured, match="names no permission"):
        gate.process_view(RequestFactory().get("/x/"), forgotten, [], {})


def test_the_walk_sees_an_address_without_permission():
    assert access_of(path("x/", lambda request: None).callback) is None
    assert access_of(resolve("/here/").func).permission.does == "see the site"


@pytest.mark.parametrize(
    ("sent", "shown"),
    [
        ("/here/runs/5/length/", "/here/runs/5/"),
        ("/here/runs/5/takeoff/7/set/", "/here/runs/5/takeoff/7/"),
        ("/here/cut-plan/3/plans/4/accept/", "/here/cut-plan/3/"),
        ("/here/members/invitations/9/withdraw/", "/here/members/"),
        ("/~/theme/", "/"),
    ],
)
def test_who_opens_an_address_that_only_takes_what_is_sent_gets_its_page(sent, shown, site):
    client = person(site, "planner")
    for answer in (client.get(sent), client.head(sent)):
        assert (answer.status_code, answer["Location"]) == (302, shown)
    assert client.put(sent).status_code == 405


def test_signing_in_again_after_sending_a_form_leads_to_its_page(site, client):
    member(site, "planner", username="late", password="a long pass phrase")
    asked = client.post("/here/members/invitations/9/withdraw/")
    answer = client.post(asked["Location"], {"username": "late", "password": "a long pass phrase"}, follow=True)
    assert answer.status_code == 200
    assert answer.request["PATH_INFO"] == "/here/members/"

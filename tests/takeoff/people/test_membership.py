"""Signing in, being invited, joining, changing roles."""

from datetime import timedelta

import pytest
from django.core import signing
from django.urls import reverse
from django.utils import timezone

from takeoff.models import Invitation, Member, User
from takeoff.people.services import INVITATION_DAYS, MembershipError, change_roles, invitation_token, invite
from tests.factories.takeoff import MemberFactory, SiteFactory, UserFactory, member

pytestmark = pytest.mark.django_db
PASSWORD = "copper and ink 7"


@pytest.fixture
def site():
    return SiteFactory(slug="here", name="Here")


@pytest.fixture
def planner(site):
    return member(site, "planner", username="planner@example.org", password=PASSWORD)


def link_of(page) -> str:
    text = page.content.decode()
    start = text.index("/~/invited/")
    return text[start : text.index("<", start)]


def test_a_wrong_password_and_an_unknown_name_get_the_same_answer(client, planner):
    answers = []
    for name in (planner.username, "nobody@example.org"):
        page = client.post(reverse("sign_in"), {"username": name, "password": "wrong"})
        answers.append(page.content.decode().replace(name, "NAME"))
    csrf = [text[text.index("csrfmiddlewaretoken") :][:120] for text in answers]
    one, other = (text.replace(token, "") for text, token in zip(answers, csrf, strict=True))
    assert "do not belong together" in one
    assert len(one) == len(other)


def test_signing_in_is_throttled_and_says_so(client, planner, settings):
    for _ in range(settings.AXES_FAILURE_LIMIT):
        page = client.post(reverse("sign_in"), {"username": planner.username, "password": "wrong"})
    assert page.status_code == 429
    assert "Try again in 15 minutes" in page.content.decode()
    page = client.post(reverse("sign_in"), {"username": planner.username, "password": PASSWORD})
    assert page.status_code == 429, "the right password does not open it either until then"


def test_who_has_one_site_lands_on_its_today(client, planner):
    page = client.post(reverse("sign_in"), {"username": planner.username, "password": PASSWORD}, follow=True)
    assert page.redirect_chain[-1][0] == "/here/"


def test_who_has_no_site_is_told_what_to_do(client):
    client.force_login(UserFactory(username="new"))
    assert "Ask a planner of your site for an invitation" in client.get("/").content.decode()


def test_who_has_two_sites_chooses(client, planner):
    there = SiteFactory(slug="there", name="There")
    MemberFactory(site=there, user=planner, role="viewer")
    client.force_login(planner)
    text = client.get("/").content.decode()
    assert 'href="/here/"' in text
    assert 'href="/there/"' in text


def test_a_person_joins_by_the_link_and_the_link_works_once(client, planner, site):
    client.force_login(planner)
    page = client.post(reverse("members", args=["here"]), {"email": "New@example.org", "roles": ["foreman"]})
    link = link_of(page)
    client.logout()
    assert "Join Here" in client.get(link).content.decode()
    filled = {"name": "New Person", "password": PASSWORD, "again": PASSWORD}
    page = client.post(link, filled, follow=True)
    assert page.redirect_chain[-1][0] == "/here/"
    joined = User.objects.get(username="new@example.org")
    assert list(Member.objects.of(site).filter(user=joined).values_list("role", flat=True)) == ["foreman"]
    again = client.get(link)
    assert again.status_code == 410
    assert "used already" in again.content.decode()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"name": "", "password": PASSWORD, "again": PASSWORD}, "This field is required"),
        ({"name": "N", "password": PASSWORD, "again": PASSWORD + "x"}, "The two passwords differ"),
        ({"name": "N", "password": "short", "again": "short"}, "too short"),
        ({"name": "N", "password": "new@example.org", "again": "new@example.org"}, "too similar"),
    ],
    ids=["no name", "passwords differ", "too short", "like the e-mail"],
)
def test_a_join_that_is_not_complete_says_why_and_makes_nobody(client, site, given, said):
    link = reverse("invited", args=[invitation_token(invite(site=site, email="new@example.org", roles=["viewer"]))])
    assert said in client.post(link, given).content.decode()
    assert not User.objects.filter(username="new@example.org").exists()


def test_a_known_person_signs_in_to_join(client, site):
    UserFactory(username="known@example.org", password=PASSWORD)
    link = reverse("invited", args=[invitation_token(invite(site=site, email="known@example.org", roles=["viewer"]))])
    page = client.get(link)
    assert page["Location"] == f"/~/sign-in/?next={link}"
    page = client.post(page["Location"], {"username": "known@example.org", "password": PASSWORD, "next": link})
    assert page["Location"] == link
    client.post(link)
    assert [member.role for member in Member.objects.of(site)] == ["viewer"]


@pytest.mark.parametrize(
    ("change", "said"),
    [("forged", "not complete"), ("old", "older than"), ("withdrawn", "withdrawn")],
)
def test_a_link_that_does_not_hold_says_why(client, site, monkeypatch, change, said):
    invitation = invite(site=site, email="new@example.org", roles=["viewer"])
    token = invitation_token(invitation)
    if change == "forged":
        token = token[:-2]
    elif change == "withdrawn":
        Invitation.objects.of(site).delete()
    else:
        later = timezone.now() + timedelta(days=INVITATION_DAYS, minutes=1)
        monkeypatch.setattr(signing.time, "time", later.timestamp)
    page = client.get(reverse("invited", args=[token]))
    assert page.status_code == 410
    assert said in page.content.decode()


def test_the_last_planner_stays(site, planner):
    with pytest.raises(MembershipError, match="at least one planner"):
        change_roles(site=site, user_id=planner.pk, roles=["viewer"])
    member(site, "planner", username="other")
    change_roles(site=site, user_id=planner.pk, roles=["viewer", "foreman"])
    assert set(planner.memberships.values_list("role", flat=True)) == {"viewer", "foreman"}


def test_a_member_of_another_site_cannot_be_changed_from_here(client, planner):
    there = SiteFactory(slug="there", name="There")
    stranger = member(there, "planner", username="stranger")
    client.force_login(planner)
    assert client.post(reverse("member", args=["here", stranger.pk]), {"roles": []}).status_code == 404
    assert stranger.memberships.count() == 1


def test_a_planner_takes_a_person_off_the_site(client, planner, site):
    other = member(site, "foreman", username="other")
    client.force_login(planner)
    page = client.post(reverse("member", args=["here", other.pk]), {"roles": []}, follow=True)
    assert "is no longer a member" in page.content.decode()
    assert not other.memberships.exists()


def test_an_invitation_is_withdrawn(client, planner, site):
    invitation = invite(site=site, email="new@example.org", roles=["viewer"])
    client.force_login(planner)
    client.post(reverse("withdraw", args=["here", invitation.pk]))
    assert not Invitation.objects.of(site).exists()


def test_signing_out_needs_a_post(client, planner):
    client.force_login(planner)
    assert client.get(reverse("sign_out")).status_code == 302
    assert client.get("/here/").status_code == 200, "an address alone signs nobody out"
    client.post(reverse("sign_out"))
    assert client.get("/here/").status_code == 302


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:x"])
def test_choosing_a_look_never_leads_elsewhere(client, back):
    page = client.post(reverse("theme"), {"theme": "dark", "next": back})
    assert page["Location"] == "/"
    assert page.cookies["theme"].value == "dark"
    assert 'data-theme="dark"' in client.get(reverse("sign_in")).content.decode()

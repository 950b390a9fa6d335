"""The command that lets the first planner in."""

import pytest
from django.core.management import CommandError, call_command

from takeoff.models import Invitation, Member
from tests.factories.takeoff import SiteFactory

pytestmark = pytest.mark.django_db


def test_it_prints_a_link_that_lets_one_person_in(client, capsys):
    site = SiteFactory(slug="here", name="Here")
    call_command("invite", "First@example.org", site="here", role=["planner"], base="https://keep.example/")
    link = capsys.readouterr().out.strip()
    assert link.startswith("https://keep.example/~/invited/")
    filled = {"name": "First", "password": "copper and ink 7", "again": "copper and ink 7"}
    client.post(link.removeprefix("https://keep.example"), filled)
    member = Member.objects.of(site).get()
    assert (member.role, member.user.username) == ("planner", "first@example.org")


@pytest.mark.parametrize(
    ("email", "slug", "said"),
    [("a@example.org", "nowhere", "There is no site 'nowhere'"), ("no address", "here", "valid email")],
    ids=["no such site", "no e-mail"],
)
def test_what_cannot_be_invited_is_said_and_nothing_is_made(email, slug, said):
    site = SiteFactory(slug="here", name="Here")
    with pytest.raises(CommandError, match=said):
        call_command("invite", email, site=slug, role=["viewer"])
    assert not Invitation.objects.of(site).exists()

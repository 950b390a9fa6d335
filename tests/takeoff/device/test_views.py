"""What a phone asks the server for, to work without signal."""

import gzip
import json
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.urls import reverse

from takeoff.device import kept_pages
from tests.factories.takeoff import SiteFactory, member

pytestmark = pytest.mark.django_db


def test_the_worker_is_for_all_addresses_and_changes_with_the_files(client):
    answer = client.get(reverse("device_worker"))
    assert answer["Service-Worker-Allowed"] == "/"
    assert answer["Content-Type"] == "text/javascript"
    text = answer.content.decode()
    assert "device.js" in text
    assert reverse("device_queue") in text
    assert "files-" in text


def test_the_page_of_the_queue_holds_nothing_of_the_servers(client):
    site = SiteFactory(slug="here", name="Quillmarsh")
    client.force_login(member(site, "storekeeper", username="samantha"))
    page = client.get(reverse("device_queue")).content.decode()
    assert "Quillmarsh" not in page
    assert "samantha" not in page
    assert "csrfmiddlewaretoken" not in page
    assert client.get(reverse("device_queue")).status_code == 200


def test_a_fresh_token_is_given_to_anyone_and_kept_by_nobody(client):
    answer = client.get(reverse("device_token"))
    assert len(answer.json()["token"]) > 30
    assert answer["Cache-Control"] == "no-store"


def test_the_manifest_names_the_whole_of_the_site(client):
    told = json.loads(client.get(reverse("device_manifest")).content)
    assert (told["scope"], told["start_url"]) == ("/", "/")


def test_a_phone_keeps_only_what_its_member_may_see(client, monkeypatch):
    site = SiteFactory(slug="here")
    monkeypatch.setattr(
        kept_pages, "_rooms", [lambda site, roles: [f"/{site.slug}/{role}/" for role in sorted(roles)] * 2]
    )
    client.force_login(member(site, "storekeeper"))
    assert client.get(reverse("device_pages", args=["here"])).json()["pages"] == ["/here/storekeeper/"]
    client.force_login(member(SiteFactory(slug="there"), "storekeeper"))
    assert client.get(reverse("device_pages", args=["here"])).status_code == 404


def test_the_kept_pages_of_each_role_open_for_it(client):
    site = SiteFactory(slug="here")
    for role in ("storekeeper", "foreman", "viewer"):
        client.force_login(member(site, role))
        pages = client.get(reverse("device_pages", args=["here"])).json()["pages"]
        assert reverse("receiving", args=["here"]) in pages
        assert [client.get(url).status_code for url in pages] == [200] * len(pages)
        assert (reverse("hand_out", args=["here"]) in pages) == (role != "viewer")


def test_our_own_script_stays_small():
    assert len(Path(finders.find("device.js")).read_bytes()) <= 30_000


def test_the_stand_has_no_more_than_30_kb_of_it_over_the_wire():
    scripts = [Path(finders.find(name)).read_bytes() for name in ("device.js", "marks.js", "stand.js")]
    assert sum(len(gzip.compress(script)) for script in scripts) <= 30_000

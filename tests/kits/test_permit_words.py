"""
No page, list or command says ready, clear or go.

On a site these are the words of whoever gives a permit. A stage whose material is here may still be live.
"""

import io
import re
from html import unescape
from pathlib import Path

import pytest
from django.core.management import call_command
from django.urls import reverse

from kits.demo.services import fill, make_people
from kits.shortages.queries import reconcile
from kits.shortages.told.as_text import as_text
from takeoff.models import Member, Run, User
from tests.browser.pages import every_page, furnish

ROOT = Path(__file__).resolve().parents[2]
WORDS = re.compile(r"\b(ready|clear|go)\b", re.IGNORECASE)
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
ATTRIBUTES = re.compile(r'\b(?:aria-label|title|alt|placeholder|data-label|content|value)="([^"]*)"')


def told(html):
    """What a page says to eye and ear: its text, and the attributes that are read out."""
    bare = re.sub(r"<(style|script)\b.*?</\1>", " ", html, flags=re.DOTALL)
    return unescape(" ".join([*ATTRIBUTES.findall(bare), re.sub(r"<[^>]*>", " ", bare)]))


def found_in(text):
    return [text[max(0, hit.start() - 30) : hit.end() + 30] for hit in WORDS.finditer(text)]


def test_the_words_are_found_whole_and_nowhere_inside_others():
    assert found_in("<b>Ready</b>, but go.") != []
    assert found_in(told('<p title="all clear">cargo, clearing, already</p>')) == [
        " all clear  cargo, clearing, already "[1:]
    ]
    assert found_in("cargo, clearance, already, ago, good") == []


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT / "templates")))
def test_no_template_says_them(path):
    bare = re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", " ", path.read_text(), flags=re.DOTALL)
    assert found_in(told(bare)) == []


@pytest.mark.django_db
def test_no_page_of_the_demo_says_them_nor_a_list_on_a_terminal(client, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "media"
    site, _result = fill(folder=tmp_path / "sheets")
    make_people(site=site)
    stops = [(stop.url, stop.role) for stop in [*furnish(site), *every_page(site)]]
    stops += [(reverse("run", args=[site.slug, run.pk]), "foreman") for run in Run.objects.of(site)]
    said = {}
    for url, role in stops:
        client.logout()
        if role:
            client.force_login(User.objects.get(username=role), backend="django.contrib.auth.backends.ModelBackend")
        hits = found_in(told(client.get(url).content.decode()))
        if hits:
            said[url] = hits
    assert said == {}
    assert {role for _, role in stops} >= {Member.Role.FOREMAN.value, Member.Role.STOREKEEPER.value}

    found = reconcile(site)
    assert any(row.state == "ready" for row in found.readiness), "in JSON it is a word of the code"
    for brief in (False, True):
        assert found_in("\n".join(as_text(found, name=site.name, unit=site.unit, width=100, brief=brief))) == []
    for command in (["plan_cuts", "--site", site.slug, "--seconds", "0.1"], ["audit", "--site", site.slug]):
        output = io.StringIO()
        call_command(*command, stdout=output)
        assert found_in(output.getvalue()) == [], command

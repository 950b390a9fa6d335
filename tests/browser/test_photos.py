"""The pieces with which any page takes and shows photos, on a page of their own, in a real browser without scripts."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.http import HttpResponse
from django.template import engines
from django.urls import clear_url_caches, path
from playwright.sync_api import expect

from config import urls
from takeoff.people.permissions import PLAN, SEE, may, needs
from takeoff.photos.queries import photos_of
from tests.browser.pages import PHONE
from tests.browser.test_every_page import RULES, SMALL, TOUCHED, WIDTH
from tests.takeoff.photos.pictures import shot

PAGE = """{% extends "base.html" %}{% block title %}Crate 2{% endblock %}{% block content %}<h1>Crate 2</h1>
{% include "takeoff/photos/photos.html" %}{% include "takeoff/photos/add.html" %}{% endblock %}"""
KEY = ("receipts", "R-1")


@needs(SEE)
def crate(request):
    context = {"kind": KEY[0], "record": KEY[1], "of": "crate 2", "may_remove": may(request.roles, PLAN)}
    context["photos"] = photos_of(request.site, [KEY]).get(KEY, [])
    return HttpResponse(engines["django"].from_string(PAGE).render(context, request))


@pytest.fixture
def address(site, settings, tmp_path, monkeypatch):
    settings.PHOTOS_DIR = tmp_path / "photos"
    monkeypatch.setattr(urls, "urlpatterns", [path("<slug:site_slug>/crate/", crate, name="crate"), *urls.urlpatterns])
    clear_url_caches()
    yield f"/{site.slug}/crate/"
    clear_url_caches()


def test_a_photo_is_chosen_seen_and_taken_away(doors, address, site):
    page = doors.open("storekeeper", width=320, height=700, java_script_enabled=False)
    page.goto(address)
    page.get_by_label("Or choose a picture").set_input_files(
        {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": shot()}
    )
    page.get_by_role("button", name="Add photo").click()
    assert page.url.endswith(address)
    assert page.get_by_text("The photo is kept.").is_visible()
    assert page.get_by_text("Photo of crate 2, taken 1 Mar 2026").is_visible()
    page.get_by_label("Take a photo").set_input_files({"name": "b.jpg", "mimeType": "image/jpeg", "buffer": b"words"})
    page.get_by_role("button", name="Add photo").click()
    assert page.get_by_text("Take it again, or choose a JPEG.").is_visible()
    page.get_by_role("link", name="Photo of crate 2").click()
    assert page.url.endswith(f"/{site.photos.get().uuid}/")
    # The page that the browser makes around a picture wants styles of its own, which the policy refuses.
    doors.wrong.clear()

    page = doors.open("planner", width=PHONE)
    page.goto(address)
    expect(page.get_by_role("img", name="Photo of crate 2")).to_have_js_property("naturalWidth", 320)
    page.get_by_text("Take it away").first.click()
    page.get_by_label("Why").fill("A face.")
    page.get_by_role("button", name="Take it away").click()
    assert page.get_by_text("A photo of crate 2 was taken away: A face.").is_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pieces_are_as_every_page_is(doors, address, scheme):
    page = doors.open("planner", width=320, height=700, scheme=scheme)
    for orientation in (1, 6):
        page.goto(address)
        picture = {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": shot(orientation=orientation)}
        page.get_by_label("Or choose a picture").set_input_files(picture)
        page.get_by_role("button", name="Add photo").click()
    page.evaluate("document.querySelectorAll('details.more').forEach(each => each.open = true)")
    assert page.evaluate(WIDTH) <= 320
    assert page.evaluate(SMALL, TOUCHED + ", .photos a") == []
    assert [each["id"] for each in Axe().run(page, options=RULES).response["violations"]] == []

"""Photos over the wire: taken in, shown, taken away."""

from uuid import uuid4

import pytest
from django.contrib.messages import get_messages
from django.core.files.uploadedfile import SimpleUploadedFile
from django.template.loader import render_to_string
from django.test import Client, RequestFactory

from takeoff.models import Photo, PhotoRemoved, User
from takeoff.photos.queries import photos_of
from tests.factories.takeoff import SiteFactory, member
from tests.takeoff.photos.pictures import shot

pytestmark = pytest.mark.django_db
TOO_LARGE = "The file is larger than 10 MB. Take it again, or choose a smaller JPEG."
ID = "6f1b9c9e-4f0e-4b1c-9c6e-1d2f3a4b5c6d"


@pytest.fixture
def site(settings, tmp_path):
    settings.PHOTOS_DIR = tmp_path / "photos"
    return SiteFactory(slug="here", timezone="America/Chicago")


def person(site, *roles: str, csrf: bool = False) -> Client:
    client = Client(enforce_csrf_checks=csrf)
    client.force_login(member(site, *roles, username=f"u{User.objects.count()}"))
    return client


@pytest.fixture
def viewer(site) -> Client:
    return person(site, "viewer")


def picture(content: bytes | None = None, name: str = "IMG_1.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, shot() if content is None else content, "image/jpeg")


def send(client: Client, content: bytes | None = None, **more):
    return client.post(
        "/here/photos/", {"id": ID, "kind": "receipts", "record": "R-1", "file": picture(content), **more}
    )


def test_a_photo_is_kept_and_then_known(viewer):
    for expected in ("kept", "known"):
        answer = send(viewer, device_at="2026-03-01T14:20:00Z")
        assert (answer.status_code, answer.json()) == (200, {"id": ID, "answer": expected, "said": []})
    photo = Photo.objects.get()
    assert photo.device_at.isoformat() == "2026-03-01T14:20:00+00:00"
    assert photo.taken.isoformat() == "2026-03-01T14:15:00+00:00"


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"id": "7"}, "The id of a photo is a UUID."),
        ({"kind": ""}, "kind: This field is required."),
        ({"record": "x" * 81}, "record: Ensure this value has at most 80 characters (it has 81)."),
        ({"record": "a\0b"}, "record: Null characters are not allowed."),
        ({"device_at": "noon"}, "device_at is a moment such as 2026-03-04T14:30:00Z."),
        ({"file": ""}, "There is no picture yet. Take one, or choose one."),
        ({"file": picture(b"")}, "The file is empty. Take it again, or choose a JPEG."),
        ({"file": picture(b"words")}, "This is no picture that can be read here. Take it again, or choose a JPEG."),
        ({"file": [picture(), picture()]}, "These are two pictures. Add one, then the other."),
        ({"file": picture(bytes(12 * 1024 * 1024))}, TOO_LARGE),
    ],
)  # fmt: skip
def test_what_cannot_be_kept_is_refused_with_what_to_do(viewer, changed, said):
    answer = send(viewer, **changed)
    assert (answer.status_code, answer.json()["answer"], answer.json()["said"]) == (422, "refused", [said])
    assert not Photo.objects.exists()


def test_another_picture_under_the_id_is_refused(viewer):
    send(viewer)
    answer = send(viewer, shot(500))
    assert (answer.status_code, answer.json()["id"]) == (422, ID)


def test_a_page_without_scripts_comes_back_with_a_word(viewer):
    answer = send(viewer, id="", next="/here/stock/?q=1")
    assert (answer.status_code, answer["Location"]) == (302, "/here/stock/?q=1")
    assert [str(each) for each in get_messages(answer.wsgi_request)] == ["The photo is kept."]
    answer = send(viewer, b"words", next="https://elsewhere.example/")
    assert answer["Location"] == "/here/"
    assert "no picture" in [str(each) for each in get_messages(answer.wsgi_request)][-1]
    assert Photo.objects.count() == 1


def test_who_is_signed_out_or_has_no_token_is_told_in_json(site, client):
    strict = person(site, "viewer", csrf=True)
    assert (send(strict).status_code, send(strict)["Content-Type"]) == (403, "application/json")
    assert send(client).status_code == 401
    assert strict.get("/here/photos/").status_code == 405


def test_a_member_sees_it_and_nobody_else(site, viewer, client):
    send(viewer)
    answer = viewer.get(f"/here/photos/{ID}/")
    assert answer.content[:3] == b"\xff\xd8\xff"
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["Cache-Control"] == "private"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"] == f'inline; filename="{ID}.jpg"'
    again = viewer.get(f"/here/photos/{ID}/", headers={"If-None-Match": answer["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    small = viewer.get(f"/here/photos/{ID}/small/")
    assert len(small.content) < len(answer.content)
    assert small["ETag"] != answer["ETag"]
    elsewhere = person(SiteFactory(slug="there"), "viewer")
    for address in (f"/here/photos/{ID}/", f"/there/photos/{ID}/"):
        assert elsewhere.get(address).status_code == 404


def test_a_planner_takes_it_away_for_a_reason(site, viewer, django_capture_on_commit_callbacks):
    send(viewer)
    planner = person(site, "planner")
    address = f"/here/photos/{ID}/remove/"
    assert viewer.post(address, {"reason": "no"}).status_code == 403
    without = planner.post(address, {"reason": " ", "next": "/here/stock/"})
    assert [str(each) for each in get_messages(without.wsgi_request)] == ["The photo stays. Say why it is taken away."]
    assert not PhotoRemoved.objects.exists()
    with django_capture_on_commit_callbacks(execute=True):
        assert planner.post(address, {"reason": "A face", "next": "/here/stock/"})["Location"] == "/here/stock/"
    assert [viewer.get(f"/here/photos/{ID}/{end}").status_code for end in ("", "small/")] == [404, 404]
    assert send(viewer).json()["said"] == ["This photo was kept before and taken away: A face"]
    assert planner.post(f"/here/photos/{uuid4()}/remove/", {"reason": "x"}).status_code == 404


def test_a_photo_whose_file_is_lost_is_not_found(viewer, settings):
    send(viewer)
    next(settings.PHOTOS_DIR.rglob("*.jpg")).unlink()
    assert viewer.get(f"/here/photos/{ID}/").status_code == 404


def test_the_pieces_say_what_when_and_by_whom(site, viewer, django_capture_on_commit_callbacks):
    send(viewer)
    send(viewer, shot(500, taken=""), id=str(uuid4()), device_at="2026-03-01T20:00:00Z")
    planner = person(site, "planner")
    request = RequestFactory().get("/here/stock/")

    def shown(**more) -> str:
        photos = photos_of(site, [("receipts", "R-1")])["receipts", "R-1"]
        context = {"site": site, "photos": photos, "of": "crate 2", **more}
        return " ".join(render_to_string("takeoff/photos/photos.html", context, request).split())

    page = shown()
    assert "Photo of crate 2, taken 1 Mar 2026, 14:15, by u0" in page
    assert "Photo of crate 2, on the phone 1 Mar 2026, 20:00, by u0" in page
    assert 'alt="Photo of crate 2, 1 of 2"' in page
    assert "remove/" not in page
    assert f"/here/photos/{ID}/remove/" in shown(may_remove=True)
    with django_capture_on_commit_callbacks(execute=True):
        planner.post(f"/here/photos/{ID}/remove/", {"reason": "A face"})
    assert "A photo of crate 2 was taken away: A face" in shown()


def test_the_form_to_add_one_works_as_it_stands(site, viewer):
    request = RequestFactory().get("/here/stock/?q=1")
    context = {"site": site, "kind": "receipts", "record": "R-1", "of": "crate 2"}
    page = render_to_string("takeoff/photos/add.html", context, request)
    assert 'name="next" value="/here/stock/?q=1"' in page
    assert page.count('name="file"') == 2
    assert page.count('capture="environment"') == 1

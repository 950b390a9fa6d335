"""A photo is kept once, file and row together, and taken away for a reason."""

from hashlib import sha256
from uuid import uuid4

import pytest
from django.db import transaction

from takeoff.models import Photo, PhotoRemoved
from takeoff.photos import on_disk, services
from takeoff.photos.errors import PhotoError
from takeoff.photos.on_disk import place_of
from takeoff.photos.queries import lost_or_left, photos_of
from takeoff.photos.services import keep_photo, remove_photo
from tests.factories.takeoff import PhotoFactory, SiteFactory, UserFactory
from tests.takeoff.photos.pictures import shot

pytestmark = pytest.mark.django_db
ID = uuid4()


@pytest.fixture
def site(settings, tmp_path):
    settings.PHOTOS_DIR = tmp_path / "photos"
    return SiteFactory()


def keep(site, content=None, **said):
    said = {"uuid": ID, "by": UserFactory(), "kind": "receipts", "record": "R-1", **said}
    return keep_photo(site=site, content=content or shot(), **said)


def files(settings) -> list[str]:
    return sorted(path.name for path in settings.PHOTOS_DIR.rglob("*") if path.is_file())


def test_row_and_file_say_the_same(site):
    photo = keep(site).photo
    content = place_of(site.pk, ID).read_bytes()
    assert (photo.size, photo.sha256) == (len(content), sha256(content).hexdigest())
    assert (photo.width, photo.height) == (400, 300)
    assert list(lost_or_left(site)) == []


def test_the_same_again_is_known(site, settings):
    first, again = keep(site), keep(site)
    assert (first.known, again.known) == (False, True)
    assert first.photo == again.photo
    assert files(settings) == [f"{ID}.jpg"]


@pytest.mark.parametrize("other", [{"content": shot(500)}, {"record": "R-2"}, {"kind": "counts"}])
def test_the_same_id_with_other_content_is_refused(site, other):
    keep(site)
    before = place_of(site.pk, ID).read_bytes()
    with pytest.raises(PhotoError, match="has this id already"):
        keep(site, **other)
    assert place_of(site.pk, ID).read_bytes() == before


def test_an_id_is_one_of_its_site(site):
    other = SiteFactory()
    keep(site)
    assert not keep(other, shot(500)).known
    assert [len(photos_of(each, [("receipts", "R-1")])) for each in (site, other)] == [1, 1]


def test_without_an_id_the_same_picture_of_the_same_record_is_the_same_photo(site):
    assert not keep(site, uuid=None).known
    assert keep(site, uuid=None).known
    assert not keep(site, uuid=None, record="R-2").known
    assert not keep(site, shot(500), uuid=None).known


def test_what_cannot_be_written_leaves_no_row(site, settings, monkeypatch):
    def full(*_):
        raise OSError("no space left")

    for where, act in ((on_disk.os, "fsync"), (services, "put_in_place")):
        with monkeypatch.context() as patch:
            patch.setattr(where, act, full)
            with pytest.raises(OSError, match="no space left"):
                keep(site)
        assert not Photo.objects.of(site).exists()
        assert files(settings) == []


def test_a_refused_picture_leaves_nothing(site, settings):
    with pytest.raises(PhotoError):
        keep(site, b"words")
    assert not Photo.objects.of(site).exists()
    assert files(settings) == []


def test_taking_away_removes_the_file_once_it_is_certain(site, django_capture_on_commit_callbacks):
    photo, planner = keep(site).photo, UserFactory()
    with django_capture_on_commit_callbacks(execute=True):
        gone = remove_photo(photo=photo, reason=" A face. ", by=planner)
        assert place_of(site.pk, ID).exists(), "not before the books say so"
    assert (gone.reason, gone.by) == ("A face.", planner)
    assert not place_of(site.pk, ID).exists()
    assert keep(site).known, "it does not come back"
    assert not place_of(site.pk, ID).exists()


def test_taking_away_again_takes_away_what_was_left(site, django_capture_on_commit_callbacks):
    photo = keep(site).photo
    remove_photo(photo=photo, reason="A face.", by=UserFactory())
    assert list(lost_or_left(site)) == [f"{photo}: taken away, and its file is still there"]
    with django_capture_on_commit_callbacks(execute=True):
        remove_photo(photo=photo, reason="again", by=UserFactory())
    assert PhotoRemoved.objects.of(site).get().reason == "A face."
    assert list(lost_or_left(site)) == []


def test_taking_away_needs_a_reason(site):
    photo = keep(site).photo
    with pytest.raises(PhotoError, match="Say why"):
        remove_photo(photo=photo, reason="  ", by=UserFactory())


@pytest.mark.django_db(transaction=True)
def test_taken_back_with_all_around_it_the_file_stays(site):
    photo = keep(site).photo
    with transaction.atomic():
        remove_photo(photo=photo, reason="A face.", by=UserFactory())
        transaction.set_rollback(True)
    assert place_of(site.pk, ID).exists()


def test_a_file_that_is_lost_or_another_is_seen(site):
    photo = keep(site).photo
    place = place_of(site.pk, ID)
    place.write_bytes(b"another")
    assert list(lost_or_left(site)) == [f"{photo}: its file is not the one that was kept"]
    place.unlink()
    assert list(lost_or_left(site)) == [f"{photo}: its file is not there"]


def test_photos_of_many_records_are_read_in_one_query(site, django_assert_num_queries):
    photos = [PhotoFactory(site=site, kind=kind, record=f"R-{n}") for kind in ("receipts", "counts") for n in range(5)]
    PhotoFactory(kind="receipts", record="R-1")
    remove_photo(photo=photos[1], reason="A face.", by=UserFactory())
    asked = [(photo.kind, photo.record) for photo in photos if photo != photos[2]]
    with django_assert_num_queries(1):
        found = photos_of(site, asked)
        assert {key: [photo.pk for photo in rows] for key, rows in found.items()} == {
            (photo.kind, photo.record): [photo.pk] for photo in photos if photo != photos[2]
        }
        assert found["receipts", "R-1"][0].removed.by.username
    assert photos_of(site, []) == {}

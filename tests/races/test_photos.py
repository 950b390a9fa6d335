"""Two sendings of one photo at once, or of two under one id: one file, one row, and they say the same."""

from functools import partial
from uuid import uuid4

import pytest

from takeoff.models import Photo
from takeoff.photos import services
from takeoff.photos.errors import PhotoError
from takeoff.photos.queries import lost_or_left
from takeoff.photos.services import keep_photo, remove_photo
from tests.factories.takeoff import SiteFactory, UserFactory
from tests.races.together import at_once, meeting
from tests.takeoff.photos.pictures import shot

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def send(settings, tmp_path, monkeypatch):
    """Sends a photo under one id; both have looked for it before either is kept."""
    settings.PHOTOS_DIR = tmp_path
    monkeypatch.setattr(services, "made_to_keep", meeting(services.made_to_keep))
    return partial(keep_photo, site=SiteFactory(), by=UserFactory(), kind="counts", record="C-1", uuid=uuid4())


def test_sent_twice_at_once_it_is_kept_once(send):
    results = at_once(*[partial(send, content=shot())] * 2)
    assert sorted(result.known for result in results) == [False, True]
    assert results[0].photo == results[1].photo


def test_of_two_under_one_id_one_is_refused_and_the_file_is_the_others(send, tmp_path):
    results = at_once(partial(send, content=shot(400)), partial(send, content=shot(500)))
    assert sorted(type(result).__name__ for result in results) == ["KeptPhoto", "PhotoError"]
    photo = Photo.objects.get()
    assert list(lost_or_left(photo.site)) == []
    assert [path.name for path in tmp_path.rglob("*.*")] == [f"{photo.uuid}.jpg"]


def test_taken_away_twice_at_once_it_is_taken_away_once(send):
    photo = send(content=shot()).photo
    results = at_once(*[partial(remove_photo, photo=photo, reason="A face.", by=photo.by)] * 2)
    assert results[0] == results[1]
    assert not any(isinstance(result, PhotoError) for result in results)
    assert list(lost_or_left(photo.site)) == []

"""What is kept of a picture, and what is not taken at all."""

import contextlib
import random
from datetime import UTC, datetime
from io import BytesIO
from zoneinfo import ZoneInfo

import pytest
from PIL import Image, ImageFile

from takeoff.photos.errors import PhotoError
from takeoff.photos.pictures import FORMATS, MOST_BYTES, made_small, made_to_keep
from tests.takeoff.photos.pictures import BLUE, ON_ITS_SIDE, RED, png_that_says, saved, shot, two_halves

CHICAGO = ZoneInfo("America/Chicago")
NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)


def kept(content: bytes):
    return made_to_keep(content, CHICAGO, NOW)


def opened(jpeg: bytes) -> Image.Image:
    return Image.open(BytesIO(jpeg))


def near(colour, other) -> bool:
    return all(abs(one - two) < 25 for one, two in zip(colour, other, strict=True))


@pytest.mark.parametrize("form", FORMATS)
def test_nothing_but_the_picture_is_kept(form):
    sent = shot(form=form)
    assert b"Camera of somebody" in sent
    assert opened(sent).getexif().get_ifd(0x8825), "it says where it was taken"
    jpeg = kept(sent).jpeg
    found = opened(jpeg)
    assert found.format == "JPEG"
    assert dict(found.getexif()) == {}
    assert not {"exif", "comment", "xmp", "icc_profile"} & found.info.keys()
    for trace in (b"Exif", b"somebody", b"GPS", b"http"):
        assert trace not in jpeg


def test_a_picture_within_the_picture_is_not_kept():
    sent = saved(two_halves(), "MPO", save_all=True, append_images=[Image.new("RGB", (400, 300), "green")])
    jpeg = kept(sent).jpeg
    assert opened(jpeg).format == "JPEG"
    assert jpeg.count(b"\xff\xd8\xff") == 1


@pytest.mark.parametrize("form", FORMATS)
def test_it_is_turned_upright(form):
    found = opened(kept(shot(orientation=ON_ITS_SIDE, form=form)).jpeg)
    assert found.size == (300, 400)
    assert near(found.getpixel((150, 50)), RED), "left was up"
    assert near(found.getpixel((150, 350)), BLUE)


@pytest.mark.parametrize(
    ("size", "becomes"), [((4000, 3000), (1600, 1200)), ((900, 3200), (450, 1600)), ((40, 30),) * 2]
)
def test_the_longer_side_is_1600_at_most(size, becomes):
    picture = kept(shot(*size))
    assert (picture.width, picture.height) == opened(picture.jpeg).size == becomes


@pytest.mark.parametrize(
    ("taken", "offset", "expected"),
    [
        ("2026:03:01 08:15:00", "", datetime(2026, 3, 1, 14, 15, tzinfo=UTC)),
        ("2026:03:01 08:15:00", "+01:00", datetime(2026, 3, 1, 7, 15, tzinfo=UTC)),
        ("2026:03:01 08:15:00", "soon", datetime(2026, 3, 1, 14, 15, tzinfo=UTC)),
        ("2031:03:01 08:15:00", "", None),
        ("0000:00:00 00:00:00", "", None),
        ("yesterday", "", None),
        ("", "", None),
    ],
)
def test_when_it_was_taken_is_read_first(taken, offset, expected):
    assert kept(shot(taken=taken, offset=offset)).taken == expected


def test_what_is_seen_through_is_white():
    assert near(opened(kept(saved(Image.new("RGBA", (60, 60)), "PNG")).jpeg).getpixel((30, 30)), (255, 255, 255))


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "CMYK", "RGBA", "I;16"])
def test_every_sort_of_colour_is_taken(mode):
    image = Image.new(mode, (60, 40))
    assert kept(saved(image, "JPEG" if mode == "CMYK" else "PNG")).width == 60


@pytest.mark.parametrize("content", [png_that_says(10_000, 10_000), png_that_says(8_001, 5_000)])
def test_more_than_40_megapixels_are_refused_before_they_are_decoded(content, monkeypatch):
    def decoded(*_):
        raise AssertionError("was decoded")

    monkeypatch.setattr(ImageFile.ImageFile, "load", decoded)
    with pytest.raises(PhotoError, match="more than 40 megapixels"):
        kept(content)


@pytest.mark.parametrize("form", ["GIF", "TIFF", "BMP"])
def test_other_pictures_are_not_taken(form):
    with pytest.raises(PhotoError, match="no picture that can be read here"):
        kept(saved(two_halves(), form))


@pytest.mark.parametrize(
    "content",
    [b"", b"Only words, whatever the name says.", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(200), b"\xff\xd8\xff"],
    ids=["empty", "text", "HEIC", "head only"],
)
def test_what_is_no_picture_is_refused(content):
    with pytest.raises(PhotoError, match="Take it again, or choose a JPEG"):
        kept(content)


def test_a_file_over_10_megabytes_is_refused():
    with pytest.raises(PhotoError, match="larger than 10 MB"):
        kept(shot() + bytes(MOST_BYTES))


@pytest.mark.parametrize("form", FORMATS)
def test_a_picture_cut_off_half_way_is_refused(form):
    noise = Image.frombytes("RGB", (300, 200), random.Random(1).randbytes(300 * 200 * 3))
    content = saved(noise, form)
    with pytest.raises(PhotoError, match="Take it again, or choose a JPEG"):
        kept(content[: len(content) // 2])


@pytest.mark.filterwarnings("ignore::UserWarning:PIL")
@pytest.mark.parametrize("form", FORMATS)
def test_whatever_is_wrong_within_a_file_it_is_kept_or_refused(form):
    chance = random.Random(2)
    content = shot(form=form)
    for _ in range(150):
        broken = bytearray(content)
        for _ in range(chance.randint(1, 20)):
            broken[chance.randrange(len(broken))] = chance.randrange(256)
        with contextlib.suppress(PhotoError):
            assert opened(kept(bytes(broken)).jpeg).format == "JPEG"


def test_small_is_small():
    small = opened(made_small(kept(shot(4000, 3000)).jpeg))
    assert small.size == (320, 240)

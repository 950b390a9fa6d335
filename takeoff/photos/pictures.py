"""
A picture from outside, made into the one that is kept.

What it is, is read from its content. It is decoded and encoded anew, so that nothing of what it carried beside the
picture is kept: no place, no name of a device, no picture within the picture.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from zoneinfo import ZoneInfo

from PIL import ExifTags, Image, ImageOps

from takeoff.photos.errors import AGAIN, PhotoError

MEGABYTE = 1024 * 1024
MOST_BYTES = 10 * MEGABYTE
MOST_PIXELS = 40_000_000
LONGER_SIDE = 1600  # px
SMALL_SIDE = 320
QUALITY = 85
FORMATS = ("JPEG", "PNG", "WEBP")

# A picture is held against our own limit, from its head; Pillow's is higher and warns only.
Image.MAX_IMAGE_PIXELS = None


@dataclass(frozen=True, slots=True)
class Picture:
    """A JPEG without metadata, and the moment that the camera had written into it."""

    jpeg: bytes
    width: int
    height: int
    taken: datetime | None


def made_to_keep(content: bytes, zone: ZoneInfo, now: datetime) -> Picture:
    """
    Return the picture upright, at most `LONGER_SIDE` px, without metadata.

    zone : where the camera's clock is taken to be set when it names no offset. now : a camera that says later than
    this is not believed. Raises PhotoError.
    """
    if len(content) > MOST_BYTES:
        raise PhotoError(
            f"The file is larger than {MOST_BYTES // MEGABYTE} MB. Take it again, or choose a smaller JPEG."
        )
    try:
        image = Image.open(BytesIO(content), formats=FORMATS)
    except Exception as error:  # what Pillow raises on a file that is broken or made to harm is not told anywhere
        raise PhotoError(f"This is no picture that can be read here. {AGAIN}") from error
    if image.width * image.height > MOST_PIXELS:
        most = MOST_PIXELS // 1_000_000
        raise PhotoError(f"The picture has more than {most} megapixels. Take it again, or choose a smaller JPEG.")
    try:
        taken = _taken(image, zone)
        upright = _upright(image, LONGER_SIDE)
    except Exception as error:  # as above
        raise PhotoError(f"The picture is cut off or damaged. {AGAIN}") from error
    jpeg = _as_jpeg(upright)
    return Picture(jpeg, upright.width, upright.height, taken if taken and taken <= now else None)


def made_small(jpeg: bytes) -> bytes:
    """Return a kept picture at the size at which a page shows it among others."""
    return _as_jpeg(_upright(Image.open(BytesIO(jpeg), formats=FORMATS), SMALL_SIDE))


def _upright(image: Image.Image, longer_side: int) -> Image.Image:
    image.thumbnail((longer_side, longer_side))
    upright = ImageOps.exif_transpose(image)
    if upright.has_transparency_data:
        upright = upright.convert("RGBA")
        paper = Image.new("RGBA", upright.size, "white")
        upright = Image.alpha_composite(paper, upright)
    return upright.convert("RGB")


def _as_jpeg(image: Image.Image) -> bytes:
    # Onto an empty picture: an image remembers what it was read with, and saving would write some of it.
    bare = Image.new("RGB", image.size)
    bare.paste(image)
    file = BytesIO()
    bare.save(file, "JPEG", quality=QUALITY, optimize=True)
    return file.getvalue()


def _taken(image: Image.Image, zone: ZoneInfo) -> datetime | None:
    exif = image.getexif().get_ifd(ExifTags.IFD.Exif)
    said = str(exif.get(ExifTags.Base.DateTimeOriginal, ""))
    offset = str(exif.get(ExifTags.Base.OffsetTimeOriginal, "")).strip("\0 ")
    for text, form in ((said + offset, "%Y:%m:%d %H:%M:%S%z"), (said, "%Y:%m:%d %H:%M:%S")):
        try:
            moment = datetime.strptime(text.strip("\0 "), form)  # noqa: DTZ007  # its zone follows
        except ValueError:
            continue
        return moment if moment.tzinfo else moment.replace(tzinfo=zone)
    return None

"""Pictures as cameras, messages and mishaps make them."""

import struct
import zlib
from io import BytesIO

from PIL import ExifTags, Image

RED, BLUE = (200, 30, 30), (30, 30, 200)
UPRIGHT, ON_ITS_SIDE = 1, 6  # EXIF: 6 is to be turned right by a quarter


def two_halves(width: int = 400, height: int = 300) -> Image.Image:
    """A picture whose left half is red and whose right half is blue."""
    image = Image.new("RGB", (width, height), RED)
    image.paste(BLUE, (width // 2, 0, width, height))
    return image


def shot(
    width: int = 400,
    height: int = 300,
    *,
    taken: str = "2026:03:01 08:15:00",
    offset: str = "",
    orientation: int = UPRIGHT,
    form: str = "JPEG",
) -> bytes:
    """A picture as a phone's camera keeps it: when, where, by which device, and how it was held."""
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    exif[ExifTags.Base.Make] = "Camera of somebody"
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    if taken:
        inner[ExifTags.Base.DateTimeOriginal] = taken
    if offset:
        inner[ExifTags.Base.OffsetTimeOriginal] = offset
    place = exif.get_ifd(ExifTags.IFD.GPSInfo)
    place[ExifTags.GPS.GPSLatitudeRef] = "N"
    place[ExifTags.GPS.GPSLatitude] = (41.0, 52.0, 30.0)
    file = BytesIO()
    two_halves(width, height).save(file, form, exif=exif, **({"comment": b"of somebody"} if form == "JPEG" else {}))
    return file.getvalue()


def saved(image: Image.Image, form: str, **more) -> bytes:
    file = BytesIO()
    image.save(file, form, **more)
    return file.getvalue()


def png_that_says(width: int, height: int) -> bytes:
    """A PNG of a few bytes whose head says how large it is; decoding it would fail."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")

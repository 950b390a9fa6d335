"""Where the files of photos lie: by the key of their site and their own id."""

from __future__ import annotations

import os
from pathlib import Path
from tempfile import NamedTemporaryFile
from uuid import UUID

from django.conf import settings


def place_of(site_id: int, uuid: UUID) -> Path:
    """Return where the file of a photo lies."""
    return Path(settings.PHOTOS_DIR) / str(site_id) / f"{uuid}.jpg"


def write_beside(place: Path, content: bytes) -> Path:
    """Write a file to the disk, for good, next to where it is to lie; return where."""
    place.parent.mkdir(parents=True, exist_ok=True)
    with NamedTemporaryFile(dir=place.parent, suffix=".part", delete=False) as file:
        part = Path(file.name)
        try:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        except BaseException:
            part.unlink()
            raise
    return part


def put_in_place(part: Path, place: Path) -> None:
    """Give a file that is on the disk its name, for good."""
    part.replace(place)
    folder = os.open(place.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)

"""Labels as they stand in a page, read again as a camera does."""

import re
from dataclasses import dataclass

import cv2
import numpy as np

CAPITAL = 0.716  # of the size of its letters
DISTANCES = (1, 0.8, 0.6, 1.3, 1.6, 0.5, 0.7, 0.9, 1.15, 1.45, 2)
DRAWN = re.compile(r'<svg class="label".*?</svg>', re.DOTALL)
TAG = re.compile(r'<text class="label-tag"[^>]*font-size="([\d.]+)"[^>]*>(.*?)</text>', re.DOTALL)


@dataclass(frozen=True)
class Seen:
    """What is read off a label: the address of its code, its tag, the height of the tag's capitals in mm."""

    address: str
    tag: str
    capital: float


def labels_in(page: str) -> list[Seen]:
    found = []
    for svg in DRAWN.findall(page):
        lines = TAG.findall(svg)
        path = re.search(r' d="([^"]+)"', svg)[1]
        tag = " ".join(text.strip() for _, text in lines)
        found.append(Seen(address_of(path), tag, min(float(size) for size, _ in lines) * CAPITAL))
    return found


def address_of(path: str) -> str:
    """Draw the dark modules of a path, and read the code with a reader that nothing of ours is in."""
    runs = [tuple(map(int, run)) for run in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", path)]
    side = max(max(x + length, y + 1) for x, y, length in runs) + 4
    image = np.full((side, side), 255, np.uint8)
    for x, y, length in runs:
        image[y, x : x + length] = 0
    return next(iter(codes_in(cv2.resize(image, None, fx=6, fy=6, interpolation=cv2.INTER_NEAREST))), "")


def codes_in(*pictures: np.ndarray, enough: int = 1) -> set[str]:
    """What the codes in pictures say, from one distance after the other until there are enough of them.

    From a single distance the reader misses one code in a hundred.
    """
    found: set[str] = set()
    for scale in DISTANCES:
        for picture in pictures:
            moved = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
            several, alone = (
                cv2.QRCodeDetector().detectAndDecodeMulti(moved),
                cv2.QRCodeDetector().detectAndDecode(moved),
            )
            found |= {*several[1], alone[0]} - {""}
        if len(found) >= enough:
            break
    return found

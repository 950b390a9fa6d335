"""An address as a QR code."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

import segno

QUIET = 4  # modules that stay white around a code, as the standard of the codes asks


@dataclass(frozen=True, slots=True)
class Code:
    """A code to draw: `side` modules with what stays white around it; `path` its dark ones, in SVG's words."""

    side: int
    path: str


@lru_cache(maxsize=1000)  # the same labels are looked at, then printed
def code_of(address: str) -> Code:
    """Return the code of an address, of which 15 % may be dirty or torn (level M)."""
    rows = segno.make_qr(address, error="m", boost_error=False).matrix
    runs = []
    for y, row in enumerate(rows, QUIET):
        x = QUIET
        for dark, modules in groupby(row):
            length = len(list(modules))
            if dark:
                runs.append(f"M{x} {y}h{length}v1h-{length}z")
            x += length
    return Code(len(rows) + 2 * QUIET, "".join(runs))

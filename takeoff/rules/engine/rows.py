"""
One row of a rule book, and the words that may stand in it.

Lengths are ticks (1/10 000 mm); `amount` and `allowance` are whole ten-thousandths of what they count. Pure: no Django.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

STAGES = ("enclosure", "cables", "seals", "terminations", "covers")
TIERS = range(1, 5)
VOLTAGE_CLASSES = ("LV", "MV")
LOCATIONS = ("indoor", "outdoor", "trench")
SECTION_KINDS = ("straight", "horizontal elbow", "vertical elbow", "tee", "offset", "expansion")
LIES = ("horizontal", "vertical")
SEALS = ("moulded", "caulked")
CROSSING_KINDS = ("wall", "floor")
ROUNDINGS = ("run", "site")

# What an amount is per.
SECTION_LIKE = ("section", "straight", "fitting", "cover")
SEAL_LIKE = ("seal", "seal plate edge", "seal cable hole", "seal block face")
HOLED = ("conductor end", "lug hole", "ground end", "ground lug hole")
COUNTED_ON = (
    "run",
    *SECTION_LIKE,
    "joint",
    "conductor",
    "ground conductor",
    *HOLED,
    "end",
    *SEAL_LIKE,
    "crossing",
)
# Counts whose things have a length, for posts and beads.
LONG = ("run", *SECTION_LIKE, "seal plate edge", "seal cable hole", "seal block face")

MEASURES = ("each", "spaced", "cut pieces", "bead", "fill", "length")

# Which counts a condition can choose among; the other conditions hold for the run as a whole.
CONDITION_ON = {
    "section_kind": SECTION_LIKE,
    "lie": SECTION_LIKE,
    "seal": SEAL_LIKE,
    "lug_holes": HOLED,
    "fire_rated": ("crossing",),
    "crossing_kind": ("crossing",),
}


@dataclass(frozen=True, slots=True)
class RuleRow:
    """
    A row as the planner wrote it; the fields are those of the model `Rule`.

    item : the item's code.
    amount : pieces [1/10 000], or a length for the measure `length`. [ticks]
    spacing, end_offset, piece, bead : lengths. [ticks]
    allowance : a fraction on top, 500 for 5 %. [1/10 000]
    tiers, location, section_kind, seal, lug_holes … : words separated by commas, numbers also as 2-4; empty means any.
    ground_min, ground_max, cable_min, cable_max : conductor sizes as text, both limits included.
    """

    name: str
    item: str
    stage: str
    counted_on: str
    measure: str
    amount: int
    source: str
    spacing: int | None = None
    end_offset: int | None = None
    sides: int | None = None
    piece: int | None = None
    bead: int | None = None
    allowance: int = 0
    rounding: str = "run"
    family: str = ""
    tiers: str = ""
    voltage_class: str = ""
    location: str = ""
    section_kind: str = ""
    lie: str = ""
    seal: str = ""
    lug_holes: str = ""
    fire_rated: bool | None = None
    crossing_kind: str = ""
    ground_min: str = ""
    ground_max: str = ""
    cable_min: str = ""
    cable_max: str = ""


@dataclass(frozen=True, slots=True)
class RuleItem:
    """
    What a rule needs to know of an item.

    stock_length : of the stick or roll it comes in. [ticks]
    contents : of a cartridge or pillow. [mm³]
    fitted : the part that it comes fitted on, empty when loose.
    """

    code: str
    unit: str = "each"
    stock_length: int | None = None
    contents: Fraction | None = None
    fitted: str = ""


class WordError(ValueError):
    """A word in a condition that is not known there: `found` is the word."""

    def __init__(self, found: str) -> None:
        super().__init__(f"{found!r} is not known here")
        self.found = found


def one_spaced(text: str) -> str:
    """Return text in lower case with single spaces, the way words are compared."""
    return " ".join(text.lower().split())


def words(text: str, known: tuple[str, ...]) -> frozenset[str] | None:
    """Return the words of a condition as they are kept, None for any. Raises WordError for one not in `known`."""
    kept = {one_spaced(word): word for word in known}
    parts = [one_spaced(part) for part in text.split(",") if part.strip()]
    for part in parts:
        if part not in kept:
            raise WordError(part)
    return frozenset(kept[part] for part in parts) or None


def numbers(text: str, known: range) -> frozenset[int] | None:
    """
    Return the numbers of a condition, None for any. Raises WordError for what is no number in `known`.

    >>> sorted(numbers("1, 3-4", range(1, 5)))
    [1, 3, 4]
    """
    found: set[int] = set()
    for part in (part.strip() for part in text.split(",") if part.strip()):
        first, dash, last = (piece.strip() for piece in part.partition("-"))
        if not first.isdecimal() or (dash and not last.isdecimal()):
            raise WordError(part)
        low, high = int(first), int(last) if dash else int(first)
        if low > high or low not in known or high not in known:
            raise WordError(part)
        found.update(range(low, high + 1))
    return frozenset(found) or None

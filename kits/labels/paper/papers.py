"""
Papers to print on, and how a label stands on each.

Single labels come from a label printer, one a page. Sheets are of ten, two side by side, in the measures in which blank
label sheets are sold: 4 × 2 in on Letter, 99.1 × 57 mm on A4 (common practice). The stylesheet lays them out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from kits.labels.paper.codes import Code, code_of
from kits.labels.paper.fitting import Line, fitted, small

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Form:
    """
    How a label is drawn on its width and height. [mm]

    code : left, top and side of the code. tag : left, top, width and height of the box that the tag fills.
    words : left, base of the first line, width, size and pitch of the lines below it.
    """

    width: float
    height: float
    code: tuple[float, float, float]
    tag: tuple[float, float, float, float]
    words: tuple[float, float, float, float, float]


LYING = Form(100, 50, code=(0, 6, 36), tag=(36, 1, 62.5, 38), words=(36, 42.5, 62.5, 3.4, 4.2))
STANDING = Form(101.6, 152.4, code=(11.8, 2, 78), tag=(5, 80, 91.6, 56), words=(5, 141, 91.6, 4.6, 5.6))


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper: its name in the stylesheet, what it is called, how many labels a page holds."""

    name: str
    called: str
    form: Form
    places: int = 1


PAPERS = {
    paper.name: paper
    for paper in (
        Paper("letter", "Sheet, Letter: 10 labels of 4 × 2 in", LYING, places=10),
        Paper("a4", "Sheet, A4: 10 labels of 99 × 57 mm", LYING, places=10),
        Paper("lying", "Single labels, 100 × 50 mm", LYING),
        Paper("standing", "Single labels, 4 × 6 in", STANDING),
    )
}


@dataclass(frozen=True, slots=True)
class Label:
    """A label to draw: its form, its code and how large a module of it is, its lines."""

    form: Form
    code: Code
    module: float
    tag: tuple[Line, ...]
    words: tuple[Line, ...]


def drawn(form: Form, *, address: str, tag: str, words: Sequence[str]) -> Label:
    """Return a label with the code of an address, a tag to be read from afar and lines to be read close by."""
    code = code_of(address)
    x, y, width, height = form.tag
    left, base, room, size, pitch = form.words
    lines = tuple(
        small(text, x=left, y=base + number * pitch, width=room, size=size) for number, text in enumerate(words)
    )
    module = round(form.code[2] / code.side, 4)
    return Label(form, code, module, fitted(tag, x=x, y=y, width=width, height=height), lines)


def on_pages(labels: Sequence[T], places: int, first: int) -> list[list[T | None]]:
    """Return labels by page, the first at place `first` of its page, from 1; None for a place that stays free."""
    placed = [*[None] * (first - 1), *labels]
    return [placed[start : start + places] for start in range(0, len(placed), places)]

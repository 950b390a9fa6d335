"""A plan in words for a terminal, from what machines read. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from takeoff.units.shown import decimal

STOPPED = {
    "proven": "nothing better exists",
    "finished": "work limits used up",
    "time": "out of time: the best so far",
    "asked": "stopped early: the best so far",
}
WORDS = (
    ("unmetFeet", "cannot be cut"),
    ("scrapFeet", "of scrap"),
    ("wholeReelsOpened", "whole reels opened"),
    ("remnants", "remnants"),
    ("setups", "set-ups"),
)


METRE_IN_FEET = Decimal("0.3048")  # exact: NIST SP 811


def tell(
    answer: Mapping[str, Any], show: Callable[[Any], str] = str, *, enough: str = "", unit: str = "ft"
) -> Iterator[str]:
    """
    Yield an answer line by line.

    unit : what levels in feet are told in, ft or m. show : how a length to buy is told. enough : the total below which
    no purchase is enough, where more is bought.
    """
    if answer["kind"] == "reels":
        yield from _tell_reels(answer, show, enough, unit)
    else:
        yield from _tell_stock(answer)


def _tell_reels(answer: Mapping[str, Any], show: Callable[[Any], str], enough: str, unit: str) -> Iterator[str]:
    levels, bounds = answer["levels"], answer["bounds"]
    pieces, reels = sum(sum(load["cuts"].values()) for load in answer["plan"]), len(answer["plan"])
    told = f"{pieces} cut{'s' * (pieces != 1)} off {reels} reel{'s' * (reels != 1)}"
    yield f"{answer['name']}: {told} ({STOPPED[answer['stopped']]})"
    for name, words in WORDS:
        if levels[name] or bounds[name] is None:
            length = unit if name.endswith("Feet") else ""
            best = answer["stopped"] == "proven" and levels[name] != bounds[name]
            known = "best together with the others" if best else _bound(levels[name], bounds[name], length)
            yield f"  {_number(levels[name], length)} {words}, {known}"
    for load in answer["plan"]:
        yield f"  {load['reel']}: " + ", ".join(f"{pieces} × {run}" for run, pieces in load["cuts"].items())
    for run, missing in answer["unmet"].items():
        yield f"  not cut: {missing} × {run}"
    for purchase in answer["buy"]:
        yield f"  buy{' at most' if enough else ''}: {purchase['count']} × {show(purchase['length'])}"
    if enough:
        again = "without stopping" if answer["stopped"] == "asked" else "with more seconds"
        yield f"  no less than {enough} is enough: plan again {again} for the exact figure"


def _tell_stock(answer: Mapping[str, Any]) -> Iterator[str]:
    if answer["plan"] is None:
        yield f"{answer['name']}: no plan was found; none can cost less than {answer['bound']}"
        return
    yield f"{answer['name']}: costs {answer['cost']}, {_bound(answer['cost'], answer['bound'])}"
    for pattern in answer["plan"]:
        cuts = ", ".join(f"{pieces} × {length}" for length, pieces in pattern["cuts"].items())
        yield f"  {pattern['times']} × {pattern['stock']}: {cuts}"


def _bound(level: float, bound: float | None, unit: str = "") -> str:
    if bound is None:
        return "nothing proven"
    return "proven best" if bound == level else f"at least {_number(bound, unit)} is proven"


def _number(value: float, unit: str = "") -> str:
    """Return a figure; with a unit of length, feet in that unit, to 0.1 ft or a centimetre."""
    if unit == "m":
        return f"{decimal(round(Decimal(value) * METRE_IN_FEET, 2))} m"
    told = decimal(round(Decimal(value), 1))
    return f"{told} {unit}" if unit else told

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
    ("unmetFeet", "ft cannot be cut"),
    ("scrapFeet", "ft of scrap"),
    ("wholeReelsOpened", "whole reels opened"),
    ("remnants", "remnants"),
    ("setups", "set-ups"),
)


def tell(answer: Mapping[str, Any], show: Callable[[Any], str] = str, *, enough: str = "") -> Iterator[str]:
    """
    Yield an answer line by line.

    show : how a length to buy is told. enough : the total below which no purchase is enough, where more is bought.
    """
    if answer["kind"] == "reels":
        yield from _tell_reels(answer, show, enough)
    else:
        yield from _tell_stock(answer)


def _tell_reels(answer: Mapping[str, Any], show: Callable[[Any], str], enough: str) -> Iterator[str]:
    levels, bounds = answer["levels"], answer["bounds"]
    pieces = sum(sum(load["cuts"].values()) for load in answer["plan"])
    yield f"{answer['name']}: {pieces} cuts off {len(answer['plan'])} reels ({STOPPED[answer['stopped']]})"
    for name, words in WORDS:
        if levels[name] or bounds[name] is None:
            best = answer["stopped"] == "proven" and levels[name] != bounds[name]
            known = "best together with the others" if best else _bound(levels[name], bounds[name])
            yield f"  {_number(levels[name])} {words}, {known}"
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


def _bound(level: float, bound: float | None) -> str:
    if bound is None:
        return "nothing proven"
    return "proven best" if bound == level else f"at least {_number(bound)} is proven"


def _number(value: float) -> str:
    return decimal(round(Decimal(value), 1))

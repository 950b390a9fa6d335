"""What the ledger refuses, told so that a person knows what is there and what to do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kits.stock.books.balances import LackingError, Lying
from takeoff.records.terms.errors import RecordError
from takeoff.units.exact import from_ticks
from takeoff.units.unit_words import unit_for

MOST_NAMED = 6  # places in one sentence


class LedgerError(RecordError):
    """An act that the ledger refuses; nothing of it was kept."""


class CannotBeError(LedgerError):
    """An act that could not have happened, whatever is there."""

    code = "malformed"
    malformed = True


class NotThereError(LedgerError):
    """More was asked for than is there."""

    code = "not_there"


class LotError(LedgerError):
    """A lot that has expired, or whose last usable day was told differently before."""

    code = "lot"


class UnknownPlaceError(LedgerError):
    """A place that does not exist, or that cannot be used so."""

    code = "place"


class CountedBeforeError(LedgerError):
    """Goods that were counted before, and nobody has said whether these are the same."""

    code = "counted_before"


class AlreadyReversedError(LedgerError):
    """A posting that was reversed before, or is itself a reversal."""

    code = "already_reversed"


def not_there(
    error: LackingError,
    *,
    code: str,
    unit: str,
    names: Mapping[int, str],
    of_others: Sequence[tuple[Lying, str]] = (),
    elsewhere: Sequence[Lying] = (),
) -> NotThereError:
    """
    Return the refusal that tells what there is instead.

    code, unit : of the item; what was asked of a lot is told in its pieces. names : of the places. of_others : what
    lies in kit boxes of other runs, with the run. elsewhere : what lies for everybody in places that were not tried.
    """
    unit = (error.pieces.unit if error.pieces else "") or unit
    asked = f"{from_ticks(error.asked)} {unit_for(unit, error.asked)}"
    total = error.found
    parts = [f"{from_ticks(total)} there" + (f" ({_listed(error.there, names)})" if error.there else "")]
    if error.expired:
        parts.append(f"expired and not to be handed out: {_listed(error.expired, names)}")
    if elsewhere:
        parts.append(f"elsewhere {_listed(elsewhere, names)}")
    if of_others:
        boxes = ", ".join(
            f"{pieces_told(lying)} in {names[lying.place]} for {run}" for lying, run in of_others[:MOST_NAMED]
        )
        parts.append(f"in boxes of other runs: {boxes}; to borrow it, say from which run")
    there = "; ".join(parts)
    return NotThereError(
        f"{code}: {asked} asked, {there}.",
        column="quantity",
        found=asked,
        expected=f"at most {from_ticks(total)} {unit_for(unit, total)}: {there}",
        lacks="stock",
    )


def pieces_told(lying: Lying) -> str:
    """Return how many lie somewhere, for a sentence; what came in place of the item with its unit."""
    return f"{from_ticks(lying.quantity)} {unit_for(lying.piece.unit, lying.quantity)}".rstrip()


def _listed(lying: Sequence[Lying], names: Mapping[int, str]) -> str:
    told = []
    for one in lying[:MOST_NAMED]:
        lot = f" of lot {one.lot}" if one.lot else ""
        until = f", usable to {one.expires:%Y-%m-%d}" if one.expires else ""
        told.append(f"{pieces_told(one)}{lot} in {names[one.place]}{until}")
    if len(lying) > MOST_NAMED:
        told.append(f"and in {len(lying) - MOST_NAMED} more places")
    return ", ".join(told)

"""What of a delivery is still to be claimed, after what earlier claims ask for. Pure; quantities in ticks."""

from __future__ import annotations

from kits.receiving.counting.by_truck import Found


def still_to_claim(found: Found, claimed: Found) -> Found:
    """
    Return what of a line no claim asks for yet; what came beyond the list is left out, it is no loss.

    >>> still_to_claim(Found(short=5, over=1, damaged=2), Found(short=3)) == Found(short=2, damaged=2)
    True
    """
    wrong = sum(quantity for _, quantity in found.wrong) > sum(quantity for _, quantity in claimed.wrong)
    return Found(
        short=max(0, found.short - claimed.short),
        damaged=max(0, found.damaged - claimed.damaged),
        refused=max(0, found.refused - claimed.refused),
        wrong=found.wrong if wrong else (),
    )

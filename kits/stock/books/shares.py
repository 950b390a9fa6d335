"""Sharing a whole quantity in proportion to weights, so that the shares always add up to it."""

from __future__ import annotations

from collections.abc import Sequence


def shared(quantity: int, weights: Sequence[int]) -> list[int]:
    """
    Return the shares of a quantity, whole ticks, none below zero: by largest remainder, the first among equals.

    quantity : zero or above. weights : zero or above, one at least above. No share is above its weight where the
    quantity is not above their sum.

    >>> shared(10, [1, 1, 1]), shared(7, [0, 2, 5])
    ([4, 3, 3], [0, 2, 5])
    """
    total = sum(weights)
    shares = [quantity * weight // total for weight in weights]
    rests = [quantity * weight % total for weight in weights]
    for place in sorted(range(len(weights)), key=lambda place: -rests[place])[: quantity - sum(shares)]:
        shares[place] += 1
    return shares

"""How much to order: whole packs, and no less than the supplier takes."""


def order_quantity(*, short: int, pack: int, min_order: int = 0) -> int:
    """
    Return what to order so that `short` is covered.

    short : what is missing. [ticks of the item's unit]
    pack : what one pack holds, above 0. [same]
    min_order : the least that the supplier takes, not negative. [same]
    Returns the fewest whole packs that hold both; 0 where nothing is short. [same]
    Raises ValueError for a pack of nothing and for a negative minimum.

    Source: ceil(need / pack) x pack, common practice.

    >>> order_quantity(short=137, pack=25), order_quantity(short=150, pack=25)
    (150, 150)
    """
    if pack <= 0:
        raise ValueError(f"a pack must hold more than nothing, got {pack}")
    if min_order < 0:
        raise ValueError(f"the least order must not be negative, got {min_order}")
    if short <= 0:
        return 0
    return -(-max(short, min_order) // pack) * pack

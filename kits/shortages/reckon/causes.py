"""
Why it is short: need - usable - inbound, split so that the parts add up exactly after any history.

Why they do: nothing is made or lost, so over all places an item's balances add up to zero, and
usable = counted - issued - rejected - expired - lost - scrapped - other_site. With need = takeoff - issued +
used_beyond_plan, and takeoff = length_changed + kit_list + promised, the rest follows by adding.
"""

from __future__ import annotations

from dataclasses import dataclass

from kits.shortages.reckon.lines import CAUSES, ShortLine

# Who answers for what each cause adds to a gap: those outside the site of whom money or goods can be asked.
ANSWERS_FOR = {
    "kit_list": "the supplier's engineering",
    "not_shipped": "the supplier",
    "short_at_count": "carrier or supplier",
    "rejected": "carrier or supplier",
}

CAUSE_WORDS = {
    "length_changed": "for runs longer than drawn",
    "kit_list": "not on the kit lists",
    "not_shipped": "promised, not shipped",
    "short_at_count": "short at count",
    "rejected": "rejected at receiving",
    "expired": "expired in store",
    "lost": "missing at store counts",
    "scrapped": "scrapped",
    "other_site": "gone to another site",
    "used_beyond_plan": "used beyond plan",
    "ordered_since": "ordered since",
    "use": "more by what finished stages used",
    "reserve": "spare",
    "timing": "by late deliveries or lots that expire",
    "other_runs": "made for other runs",
}
# Where no kit at all is promised for an item, nobody's engineering failed.
NO_KIT = "no kit promised"
# Of what was ordered since, what nobody pays for.
FREE = "free replacement, ordered since"
# Before any stage is finished, what is usual for the class of use; nobody's doing.
USUAL, USUAL_BELOW = "more than drawn, as is usual for such goods", "less than drawn, as is usual for such goods"


# What a cause says when it takes away from the gap.
CAUSE_WORDS_BELOW = {
    "length_changed": "for runs shorter than drawn",
    "kit_list": "more on the kit lists than the drawings need",
    "not_shipped": "shipped beyond what was promised",
    "short_at_count": "over at count",
    "lost": "found at store counts",
    "other_site": "come from another site",
    "used_beyond_plan": "left over from finished stages",
    "use": "less by what finished stages used",
}


def answers_for(line: ShortLine, cause: str) -> str:
    """Return who outside the site answers for what a cause adds to a line's gap; empty for nobody."""
    if cause == "kit_list" and not line.promised:
        return ""
    return ANSWERS_FOR.get(cause, "")


class BooksDoNotAddUp(ValueError):  # noqa: N818  # reads as the sentence it is
    """The parts of an item's gap do not add up: a quantity was made or lost somewhere."""


@dataclass(frozen=True, slots=True)
class ItemTotals:
    """
    The totals that the causes are made of. [ticks]

    takeoff, drawn : with and without as-built lengths. promised : kit lines. ordered : orders sent or confirmed, net
    of what was cancelled. on_order : of those, not on a shipment yet. shipped : packing lines. counted : taken over
    from suppliers. uncounted : listed on open packing lines and not counted yet. rejected : quarantine and returned to
    suppliers. expired : in bins past the last day. lost : less what was found. scrapped, elsewhere : those places.
    issued, need : over all stages.
    """

    takeoff: int
    drawn: int
    promised: int
    ordered: int
    on_order: int
    shipped: int
    counted: int
    uncounted: int
    rejected: int
    expired: int
    lost: int
    scrapped: int
    elsewhere: int
    issued: int
    need: int

    @property
    def inbound(self) -> int:
        """What is still to come."""
        return self.uncounted + self.on_order


def split(books: ItemTotals) -> dict[str, int]:
    """Return what each cause adds to the gap, in the order of CAUSES; a negative one makes it smaller."""
    parts = {
        "length_changed": books.takeoff - books.drawn,
        "kit_list": books.drawn - books.promised,
        "not_shipped": books.promised + books.ordered - books.shipped - books.on_order,
        # Listed less counted over closed lines, and less the excess counted on open ones and beside the list.
        "short_at_count": books.shipped - books.uncounted - books.counted,
        "rejected": books.rejected,
        "expired": books.expired,
        "lost": books.lost,
        "scrapped": books.scrapped,
        "other_site": books.elsewhere,
        "used_beyond_plan": books.issued + books.need - books.takeoff,
        "ordered_since": -books.ordered,
    }
    return {cause: parts[cause] for cause in CAUSES}


def check(line: ShortLine) -> None:
    """
    Prove that a line adds up: its causes to its gap, and gap, learned use and dates to what is short.

    Raises BooksDoNotAddUp naming the item and both sides.
    """
    total = sum(line.causes.values())
    if total != line.gap:
        raise BooksDoNotAddUp(f"{line.item.code}: the causes add up to {total}, the gap is {line.gap} (1/10 000 units)")
    if line.learned != line.need_covered - line.need:
        raise BooksDoNotAddUp(f"{line.item.code}: learned is {line.learned}, not covered less need")
    least = min(line.timing, line.other_runs)
    if least < 0 or line.short != max(0, line.uncovered) + line.timing + line.other_runs:
        raise BooksDoNotAddUp(
            f"{line.item.code}: short is {line.short}, gap {line.gap} + learned {line.learned}, timing {line.timing}, "
            f"made for other runs {line.other_runs}"
        )

"""
What came instead of what was listed: an accepted substitute, a refused grade, or a wrong item.

Terms of a list of grades match as whole words in any case: "latex" is found in "acrylic latex caulk". A refused term
outweighs an accepted one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction


class Verdict(Enum):
    """How something that came stands to what was listed."""

    AS_LISTED = "as listed"
    SUBSTITUTE = "accepted substitute"
    REFUSED = "refused"
    WRONG = "wrong item"


@dataclass(frozen=True, slots=True)
class Goods:
    """An item as far as substitution goes. contents : what one unit holds, in any unit common to both, or None."""

    code: str
    grade: str = ""
    accept: str = ""
    refuse: str = ""
    contents: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Judgement:
    """A verdict with its reason, empty when all is as listed. each : units of the listed item that one unit covers."""

    verdict: Verdict
    reason: str = ""
    each: Fraction = Fraction(1)


def judge(listed: Goods, came: Goods | None, grade: str = "") -> Judgement:
    """
    Say how what came stands to what was listed.

    came : the item that came, None when it is the listed one. grade : what is printed on it, where the receipt says.
    """
    printed = [word for word in (grade, came.grade if came else "") if word]
    names = [*printed, *([came.code] if came else [])]
    for name in names:
        refused = _term_in(listed.refuse, name)
        if refused:
            return Judgement(Verdict.REFUSED, f"{name} is refused for {listed.code} ({refused})")
    if came is None:
        return Judgement(Verdict.AS_LISTED)
    if not any(_term_in(listed.accept, name) for name in names):
        return Judgement(Verdict.WRONG, f"{came.code} came and is no accepted substitute for {listed.code}")
    if (listed.contents is None) != (came.contents is None):
        unknown = listed.code if listed.contents is None else came.code
        reason = f"{came.code} may stand in for {listed.code}, but the contents of {unknown} are not known"
        return Judgement(Verdict.WRONG, reason)
    each = came.contents / listed.contents if came.contents and listed.contents else Fraction(1)
    return Judgement(Verdict.SUBSTITUTE, f"{came.code} stands in for {listed.code}", each)


def covered(quantity: int, each: Fraction) -> int:
    """Return what `quantity` ticks of a substitute cover of the listed item, in whole ticks, cut, never rounded up."""
    return int(quantity * each)


def _term_in(terms: str, name: str) -> str:
    """Return the first of the comma-separated `terms` whose words stand together in `name`, or an empty text."""
    words = f" {' '.join(re.findall(r'[^\W_]+', name.casefold()))} "
    for term in terms.split(","):
        looked_for = " ".join(re.findall(r"[^\W_]+", term.casefold()))
        if looked_for and f" {looked_for} " in words:
            return term.strip()
    return ""

"""
What came instead of what was listed: an accepted substitute, a refused grade, or a wrong item.

A list's term is the code of an item, or words of a grade, in any case: "latex" is found in "acrylic latex caulk". A
refused term outweighs an accepted one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
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
    grades = [printed for printed in (grade, came.grade if came else "") if printed]
    code = came.code if came else ""
    refused = _term_that_names(listed.refuse, code, grades)
    if refused:
        what = ", ".join([*filter(None, [code]), *grades])
        return Judgement(Verdict.REFUSED, f"{what} came, and {refused} is refused for {listed.code}")
    if came is None:
        return Judgement(Verdict.AS_LISTED)
    if not _term_that_names(listed.accept, code, grades):
        return Judgement(Verdict.WRONG, f"{code} came and is no accepted substitute for {listed.code}")
    if (listed.contents is None) != (came.contents is None):
        unknown = listed.code if listed.contents is None else came.code
        reason = f"{came.code} may stand in for {listed.code}, but the contents of {unknown} are not known"
        return Judgement(Verdict.WRONG, reason)
    each = came.contents / listed.contents if came.contents and listed.contents else Fraction(1)
    return Judgement(Verdict.SUBSTITUTE, f"{came.code} stands in for {listed.code}", each)


def accepts(listed: Goods, grade: str) -> bool:
    """Return whether `grade` is one of the accepted ones."""
    return bool(_term_that_names(listed.accept, "", [grade]))


def _term_that_names(terms: str, code: str, grades: Iterable[str]) -> str:
    """Return the first of the comma-separated `terms` that is `code` or stands, word for word, in one of `grades`."""
    printed = [f" {_words(grade)} " for grade in grades]
    for term in filter(None, map(str.strip, terms.split(","))):
        if term.casefold() == code.casefold() or any(f" {_words(term)} " in words for words in printed):
            return term
    return ""


def _words(text: str) -> str:
    return " ".join(re.findall(r"[^\W_]+", text.casefold()))

"""What a phone reckons of marks without signal is what the server reckons, to the tick."""

import json
import random
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from math import ceil
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from playwright.sync_api import Page

from reels.ledger.marks.line import reel_books
from reels.ledger.marks.next_cut import next_cut
from reels.ledger.marks.printed import LENGTH_PER_MARK, CutMarks, ReelMarks
from reels.ledger.marks.reading import Hands

CASES = 10_000
NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)
TAPE = {"inches": 254_000, "cm": 100_000}
ALLOWANCES = (Fraction(1, 100), Fraction(0), Fraction(5, 1000), Fraction(333, 10_000))
# The page's own arithmetic on what a case says, as text: JSON holds no number that large.
IN_THE_PAGE = """(cases) => cases.map((one) => {
  const big = (value) => value === null ? null : BigInt(value);
  const cut = ({ outer, inner, taped, at }) => ({ outer: big(outer), inner: big(inner), taped: big(taped), at });
  const { unit } = one.reel;
  const reel = { unit, length: big(one.reel.length), outer: big(one.reel.outer), inner: big(one.reel.inner) };
  const hands = { tape: big(one.tape), as: one.as };
  const books = reelMarks.books(reel, one.cuts.map(cut), big(one.reading));
  const next = reelMarks.nextCut(reel, books, one.mine.map(cut), big(one.need), one.allowance.map(big), hands);
  const shown = (mark) => mark === null ? null : reelMarks.told(mark, reel, hands.as);
  const text = (value) => value === null ? null : String(value);
  return [text(books.outermost), text(books.left), text(next.length), next.byTape, text(next.begins), text(next.at),
    text(next.left), shown(next.begins), shown(next.at)];
})"""


def case(rng: random.Random) -> tuple[dict, list]:
    """A reel, its cuts, a need, and what the server says of the next cut."""
    unit = rng.choice(("ft", "m"))
    outer = rng.randrange(0, 5000) * 10_000 + rng.choice((0, rng.randrange(10_000)))
    size = rng.randrange(30, 3000) * 10_000 + rng.choice((0, rng.randrange(10_000)))
    inner = outer + size if rng.random() < 0.5 or size > outer else outer - size
    if rng.random() < 0.1:
        outer = inner = None
    length = int(size * LENGTH_PER_MARK[unit])
    reel = ReelMarks(length, outer, inner, unit)
    reading = rng.choice((0, 1_524_000, 1_500_000, 12_345))
    cuts = [cut(rng, reel, number, reading) for number in range(rng.choice((0, 0, 1, 1, 2, 3, 6)))]
    mine = [one for one in cuts if one.taped is None or rng.random() < 0.4]
    as_ = rng.choice(("inches", "cm", "tenths"))
    hands = Hands(rng.choice((254_000, 100_000)), as_)
    need, allowance = rng.randrange(1, rng.choice((length, length // 20))), rng.choice(ALLOWANCES)
    if rng.random() < 0.05:  # to the very core
        cuts, mine, need, allowance = [], [], length, Fraction(0)
    books = reel_books(reel, cuts, reading)
    found = next_cut(reel, books, mine, need, allowance, hands)
    said = [
        *(str(books.outermost), str(books.left), str(found.length), found.by_tape),
        *(None if mark is None else str(mark) for mark in (found.begins, found.at)),
        str(found.left),
        *(None if mark is None else hands.told(mark, reel) for mark in (found.begins, found.at)),
    ]
    asked = {
        "reel": {"unit": unit, "length": str(length), "outer": as_text(outer), "inner": as_text(inner)},
        "cuts": [as_cut(one) for one in cuts],
        "mine": [as_cut(one) for one in mine],
        "reading": str(reading),
        "tape": str(hands.tape),
        "as": as_,
        "need": str(need),
        "allowance": [str(allowance.numerator), str(allowance.denominator)],
    }
    return asked, said


def cut(rng: random.Random, reel: ReelMarks, number: int, reading: int) -> CutMarks:
    """A cut by tape, by marks, or both that agree more or less; some begin a reading inside the outer end."""
    unit = reel.unit
    at = NOON + timedelta(minutes=rng.randrange(4))
    if not reel.has_marks or rng.random() < 0.15:
        return CutMarks(f"c{number}", taped=rng.randrange(1, reel.length // 2), at=at)
    start, end = sorted(rng.sample(range(reel.span + 1), 2))
    if rng.random() < 0.4:
        start = ceil(reading / LENGTH_PER_MARK[unit])
        end = start + rng.randrange(1, reel.span // 2)
    taped = None
    if rng.random() < 0.7:
        off = rng.choice((Fraction(99, 100), Fraction(101, 100), Fraction(rng.randrange(900, 1100), 1000)))
        taped = max(1, int((end - start) * LENGTH_PER_MARK[reel.unit] * off))
    marks = [reel.mark_at(start), reel.mark_at(end)]
    rng.shuffle(marks)
    return CutMarks(f"c{number}", marks[0], marks[1], taped, at)


def as_text(value: int | None) -> str | None:
    return None if value is None else str(value)


def as_cut(one: CutMarks) -> dict:
    values = {name: as_text(getattr(one, name)) for name in ("outer", "inner", "taped")}
    return values | {"at": one.at.isoformat()}


@pytest.fixture
def arithmetic(page: Page) -> Page:
    page.goto("about:blank")
    page.add_script_tag(path=Path(finders.find("marks.js")))
    return page


def test_ten_thousand_cases_get_the_same_answer_in_the_browser_to_the_tick(arithmetic):
    rng = random.Random(20260304)
    cases = [case(rng) for _ in range(CASES)]
    answers = arithmetic.evaluate(IN_THE_PAGE, [asked for asked, _ in cases])
    wrong = [
        {"asked": asked, "server": said, "phone": answer}
        for (asked, said), answer in zip(cases, answers, strict=True)
        if said != answer
    ]
    assert wrong == [], json.dumps(wrong[:3], indent=1)
    told = [said for _, said in cases]
    assert all({False, True} <= {said[3] for said in told if (said[5] is None) is none} for none in (False, True))

"""
The projection worked out a second time: piece by piece and day by day, on 500 random sites.

Nothing here is shared with the product but the books that go in: pieces lie in a list, days go by one at a time, packs
are added until there are enough, and working days are counted by stepping.
"""

from dataclasses import replace
from datetime import date, timedelta
from random import Random

import pytest

from kits.shortages.reckon.item import ItemBooks, OrderedLine, PackedLine, StageBook, Terms, reckon
from kits.shortages.reckon.lines import ShortItem
from kits.shortages.reckon.projection import LotStock
from kits.shortages.reckon.working_days import LeadTime, WorkingDays

AS_OF = date(2026, 5, 4)
DAY = timedelta(days=1)
AHEAD = 130  # days; nothing happens later


def maybe_day(random, first, last):
    return None if random.random() < 0.2 else AS_OF + DAY * random.randint(first, last)


def random_books(random):
    stages = tuple(
        StageBook(
            run,
            f"CB-{run}",
            "covers",
            planned=maybe_day(random, -20, 80),
            done=random.random() < 0.2,
            takeoff=random.randint(0, 12),
            drawn=random.randint(0, 12),
            issued=random.choice([0, 0, random.randint(0, 12)]),
            done_on=AS_OF - DAY * random.randint(0, 9),
            unused=random.random() < 0.5,
        )
        for run in range(random.randint(1, 5))
    )
    lots = tuple(LotStock(random.randint(0, 9), maybe_day(random, -10, 60)) for _ in range(random.randint(0, 3)))
    packing = tuple(
        PackedLine(
            f"S-{n}", random.randint(1, 9), random.randint(0, 5), random.random() < 0.3, maybe_day(random, -9, 90)
        )
        for n in range(random.randint(0, 2))
    )
    orders = tuple(
        OrderedLine(
            f"O-{n}",
            random.randint(1, 12),
            random.randint(0, 6),
            random.random() < 0.8,
            random.choice([None, maybe_day(random, -9, 90)]),
            sent=maybe_day(random, -40, 0),
            lead=random.choice([None, LeadTime(random.randint(0, 30), random.random() < 0.5)]),
        )
        for n in range(random.randint(0, 2))
    )
    item = ShortItem(
        id=1,
        code="X",
        pack=random.randint(1, 7),
        min_order=random.choice([0, random.randint(1, 15)]),
        lead=random.choice([None, LeadTime(random.randint(0, 40), random.random() < 0.5)]),
    )
    here = sum(lot.quantity for lot in lots) + sum(stage.issued for stage in stages)
    return ItemBooks(item=item, stages=stages, lots=lots, packing=packing, orders=orders, lost=-here)


def works(day, holidays):
    return day.weekday() < 5 and day not in holidays


def steps_of(day, count, direction, holidays):
    """Step `count` working days, after going to the first one in that direction."""
    while not works(day, holidays):
        day += DAY * direction
    while count:
        day += DAY * direction
        count -= works(day, holidays)
    return day


def comes(sent, lead, holidays):
    return steps_of(sent, lead.days, 1, holidays) if lead.working else sent + DAY * lead.days


def lowest(books, deliveries, needs):
    """Return how many pieces are owed at the end of each day."""
    pieces = [lot.expires for lot in books.lots for _ in range(lot.quantity)]
    owed, ends = 0, []
    for day in (AS_OF + DAY * n for n in range(AHEAD)):
        pieces = [expires for expires in pieces if expires is None or expires >= day]
        pieces += [None] * sum(quantity for quantity, on in deliveries if on == day)
        owed += sum(quantity for quantity, on in needs if on == day)
        pieces.sort(key=lambda expires: (expires is None, expires or day))
        while owed and pieces:
            pieces.pop(0)
            owed -= 1
        ends.append(owed)
    return ends


def first_owed(ends):
    return next((AS_OF + DAY * n for n, owed in enumerate(ends) if owed), None)


def again(books, buffer_days, holidays):
    """Return short, the day of it, order, expedite and the day to order by."""
    coming = [(max(0, one.listed - one.counted), one.expected) for one in books.packing if not one.closed]
    for one in books.orders:
        if one.open and one.quantity > one.shipped:
            on = one.expected
            if on is None and one.sent and one.lead and comes(one.sent, one.lead, holidays) >= AS_OF:
                on = comes(one.sent, one.lead, holidays)
            coming.append((one.quantity - one.shipped, on))
    stands = [(quantity, max(on, AS_OF)) for quantity, on in coming if on]
    here = [(quantity, AS_OF) for quantity, _ in coming]
    needs, dated = [], []
    for stage in books.stages:
        asked = stage.done and not stage.issued and not stage.unused
        day = stage.done_on if asked else stage.planned
        if (asked or not stage.done) and stage.takeoff > stage.issued:
            need = (stage.takeoff - stage.issued, max(day or AS_OF, AS_OF))
            needs.append(need)
            if day:
                dated.append(need)
    owed, owed_here = lowest(books, stands, needs), lowest(books, here, needs)
    order = 0
    if max(owed_here):
        while order < max(max(owed_here), books.item.min_order):
            order += books.item.pack
    out_on, order_by = first_owed(lowest(books, here, dated)), None
    if out_on and books.item.lead:
        lead, order_by = books.item.lead, out_on - DAY * buffer_days
        order_by = steps_of(order_by, lead.days, -1, holidays) if lead.working else order_by - DAY * lead.days
        order_by = steps_of(order_by, 0, -1, holidays)
    return (
        max(owed),
        first_owed(lowest(books, stands, dated)),
        order,
        max(a - b for a, b in zip(owed, owed_here, strict=True)),
        order_by,
    )


@pytest.mark.parametrize("hundred", range(5))
def test_a_hundred_random_sites_come_out_the_same_piece_by_piece(hundred):
    random = Random(hundred)
    told = {"order": 0, "expedite": 0, "both": 0}
    for _ in range(100):
        holidays = tuple(AS_OF + DAY * random.randint(-30, 60) for _ in range(4))
        buffer_days = random.randint(0, 5)
        terms = Terms(as_of=AS_OF, buffer_days=buffer_days, working_days=WorkingDays(holidays))
        for books in (random_books(random) for _ in range(random.randint(1, 3))):
            line = reckon(books, terms)

            found = (line.short, line.short_on, line.order, line.expedite, line.order_by)
            assert found == again(books, buffer_days, holidays), books
            told["order"] += line.order > 0
            told["expedite"] += line.expedite > 0
            told["both"] += line.order > 0 and line.expedite > 0
    assert min(told.values()) >= 5, "the sites say something of each"


def made_for_runs(random, books):
    """Return books of an item that is made for runs: who each piece fits is thrown, sometimes nobody, sometimes two."""
    runs = sorted({stage.run_id for stage in books.stages})

    def thrown(one):
        most = random.choice([0, 1, 1, 1, 2])
        return replace(one, fits=frozenset(random.sample(runs, min(most, len(runs)))))

    return replace(
        books,
        item=replace(books.item, for_run=True, min_order=0),  # the least order is of all runs together
        lots=tuple(map(thrown, books.lots)),
        packing=tuple(map(thrown, books.packing)),
        orders=tuple(map(thrown, books.orders)),
    )


def shared_between(run, pieces):
    """Return all runs that a run can be reached from by pieces that fit both ends of each step."""
    reached, new = {run}, {run}
    while new:
        new = {other for piece in pieces if piece.fits & new for other in piece.fits} - reached
        reached |= new
    return reached


@pytest.mark.parametrize("hundred", range(5))
def test_what_is_made_for_runs_comes_out_the_same_run_by_run(hundred):
    random = Random(1000 + hundred)
    told = {"other runs": 0, "order": 0, "shared": 0}
    for _ in range(100):
        terms = Terms(as_of=AS_OF, buffer_days=random.randint(0, 5))
        books = made_for_runs(random, random_books(random))
        line = reckon(books, terms)

        pieces = [lot for lot in books.lots if lot.quantity and (lot.expires is None or lot.expires >= AS_OF)]
        pieces += [one for one in books.packing if not one.closed and one.listed > one.counted]
        pieces += [one for one in books.orders if one.open and one.quantity > one.shipped]
        apart = []
        for together in {frozenset(shared_between(stage.run_id, pieces)) for stage in books.stages}:
            own = replace(
                books,
                stages=tuple(one for one in books.stages if one.run_id in together),
                lots=tuple(one for one in books.lots if one.fits & together),
                packing=tuple(one for one in books.packing if one.fits & together),
                orders=tuple(one for one in books.orders if one.fits & together),
            )
            apart.append(again(own, terms.buffer_days, ()))
            told["shared"] += len(together) > 1
        short, short_on, order, expedite, order_by = zip(*apart, strict=True)
        first = [min(filter(None, days), default=None) for days in (short_on, order_by)]
        found = (line.short, line.short_on, line.order, line.expedite, line.order_by)
        assert found == (sum(short), first[0], sum(order), sum(expedite), first[1]), books
        assert line.other_runs == sum(short) - again(books, terms.buffer_days, ())[0] >= 0
        told["other runs"] += line.other_runs > 0
        told["order"] += line.order > 0
    assert min(told.values()) >= 5, "the sites say something of each"

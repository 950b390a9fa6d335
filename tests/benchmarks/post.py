"""
Posting a move, beside the same rows inserted and committed by the bare ORM, on the same database.

    python -m tests.benchmarks.post            # SQLite in a file, as the settings have it
    DATABASE_URL=postgres://… python -m tests.benchmarks.post

Makes a test database and drops it. The two take turns in small batches, so that both meet the same machine. A posting
writes four rows: itself, its move, and the balances of both ends; the bare ORM inserts the same four. On site a
post mostly meets balances that exist, and updates them: that is held against two bare inserts, and printed, too.
"""
# ruff: noqa: E402  # models can be imported once Django is set up

import os
import statistics
import time
from collections.abc import Callable
from decimal import Decimal

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
os.environ.setdefault("SECRET_KEY", "benchmark")
os.environ["DEBUG"] = "False"  # with debug on, Django keeps every query

import django

django.setup()

from django.db import connection, transaction
from django.test.utils import setup_databases, teardown_databases
from django.utils import timezone

from kits.models import Balance, Move, Posting
from kits.stock.places import Places
from takeoff.models import Item, Site
from tests.kits.makers import move_of, post

BATCH, ROUNDS = 50, 20
TARGET = 4.0


def timed(act: Callable[[int], None], start: int) -> float:
    """Seconds that one act takes, on average over a batch."""
    began = time.perf_counter()
    for number in range(start, start + BATCH):
        act(number)
    return (time.perf_counter() - began) / BATCH


def main() -> None:
    site = Site.objects.create(slug="bench", name="Bench")
    item = Item.objects.create(site=site, code="I", description="Item")
    places = Places(site)
    source, target = places.lost_found(), places.bin("Store")
    now = timezone.now()

    def bare_posting(number: int) -> None:
        posting = Posting.objects.create(
            site=site, event_id=f"bare {number}", kind="count", content_hash="0" * 64, at=now, recorded_at=now
        )
        Move.objects.create(
            posting=posting, item=item, lot=f"b{number}", source=source, target=target, quantity=Decimal(1)
        )

    def bare_four(number: int) -> None:
        with transaction.atomic():
            bare_posting(number)
            Balance.objects.create(place=source, item=item, lot=f"b{number}", quantity=-1, may_be_negative=True)
            Balance.objects.create(place=target, item=item, lot=f"b{number}", quantity=1)

    def bare_two(number: int) -> None:
        with transaction.atomic():
            bare_posting(-1 - number)

    def ours(lot: str) -> Callable[[int], None]:
        def act(number: int) -> None:
            step = move_of(item, 1, source, target, lot and f"{lot}{number}")
            post(site=site, event_id=f"ours {lot}{number}", kind=Posting.Kind.COUNT, at=timezone.now(), moves=[step])

        return act

    acts = {"bare, 4 rows": bare_four, "bare, 2 rows": bare_two, "new balances": ours("n"), "known balances": ours("")}
    times: dict[str, list[float]] = {name: [] for name in acts}
    for round_ in range(ROUNDS + 1):
        for name, act in acts.items():
            seconds = timed(act, round_ * BATCH)
            if round_:  # the first warms up
                times[name].append(seconds)
    typical = {name: statistics.median(seconds) for name, seconds in times.items()}
    for name, seconds in typical.items():
        print(f"{connection.vendor}: {name:15} {seconds * 1000:7.3f} ms")
    ratio = typical["new balances"] / typical["bare, 4 rows"]
    print(f"{connection.vendor}: the same four rows      {ratio:.2f} times the bare ORM (to reach: {TARGET:g})")
    ratio = typical["known balances"] / typical["bare, 2 rows"]
    print(f"{connection.vendor}: two rows, two updates   {ratio:.2f} times two bare inserts")


if __name__ == "__main__":
    kept = setup_databases(verbosity=0, interactive=False)
    try:
        main()
    finally:
        teardown_databases(kept, verbosity=0)

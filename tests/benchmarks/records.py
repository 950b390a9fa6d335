"""
Records at size: the same books in any order, a batch beside a load, and a hand-out beside a load.

    DATABASE_URL=postgres://… python -m tests.benchmarks.records [AMOUNT]

Makes a test database and drops it. A history of AMOUNT records (10 000) is loaded as sheets into one site, and sent
to another shuffled, in batches of any size, each one to three times, by three senders at once (one after the other on
SQLite). Then, each as a ratio: a record in a batch of 200 to the same record in a load; a hand-out during a load of
AMOUNT rows to one alone, of an item that the load does not touch and of one that it does.
"""
# ruff: noqa: E402  # models can be imported once Django is set up

import os
import statistics
import sys
import threading
import time

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
os.environ.setdefault("SECRET_KEY", "benchmark")
os.environ["DEBUG"] = "False"

import django

django.setup()

from django.db import connection
from django.test.utils import setup_databases, teardown_databases

from kits.audit.proofs import prove_site
from takeoff.models import SetAside, Site, User
from takeoff.sheets import services as loading
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory
from tests.kits.histories import as_sheets, batches, history, store
from tests.kits.makers import handed, stocked
from tests.races.test_histories import books, send_all
from tests.races.together import at_once
from tests.takeoff.sheets.books import load


def same_books(amount: int) -> tuple[float, Site]:
    """Print whether any order leaves the same books; return the seconds of the load, and the site that was sent to."""
    records = history(amount, 7)
    one, other = store("sheets"), store("phones")
    began = time.perf_counter()
    assert load(as_sheets(records), slug="sheets").loaded
    seconds = time.perf_counter() - began
    parts = batches(records, 7)
    senders = [User.objects.create_user(f"phone-{number}") for number in range(3)]
    jobs = [
        lambda share=parts[number::3], sender=sender: send_all(other, share, sender)
        for number, sender in enumerate(senders)
    ]
    began = time.perf_counter()
    answers = [job() for job in jobs] if connection.vendor == "sqlite" else at_once(*jobs)
    sent = time.perf_counter() - began
    faults = [found for found in answers if isinstance(found, Exception)]
    waiting = SetAside.objects.of(other).filter(end=None).count()
    proven = all(proof.holds for site in (one, other) for proof in prove_site(site))
    print(f"{amount} records in {len(parts)} batches by three: faults {faults}, {waiting} left aside,", end=" ")
    print(f"aside meanwhile {SetAside.objects.of(other).count()}, same books {books(one) == books(other)},", end=" ")
    print(f"audit clean {proven}; load {seconds:.1f} s, sending {sent:.1f} s")
    return seconds, other


def batch_beside_load() -> None:
    """Print what a record costs in a batch of 200, as a ratio to the same in a load of 200."""
    ratios = []
    sender = User.objects.create_user("batch")
    for turn in range(5):
        records = history(200, 100 + turn)
        one, other = store(f"load-{turn}"), store(f"batch-{turn}")
        began = time.perf_counter()
        assert load(as_sheets(records), slug=one.slug).loaded
        loaded = time.perf_counter() - began
        began = time.perf_counter()
        send_all(other, [records], sender)
        ratios.append((time.perf_counter() - began) / loaded)
    print(f"a record in a batch of 200: {statistics.median(ratios):.2f} x one in a load (at most 1.5)")


def hand_out_beside_load(amount: int) -> None:
    """Print what a hand-out takes during a load, as a ratio to one alone, and how long the load holds its items."""
    site = SiteFactory(slug="beside")
    touched, other, run = (
        ItemFactory(site=site, code="TOUCHED"),
        ItemFactory(site=site, code="OTHER"),
        RunFactory(site=site, name="R"),
    )
    for item in (touched, other):
        stocked(item, 10 * amount, "A")
        handed(item, 1, run, bin="A")
    alone = statistics.median(_seconds(lambda: handed(other, 1, run, bin="A")) for _ in range(20))
    rows = [[f"load-{n}", "TOUCHED", 1, "R", "seals", "2026-03-03", "A"] for n in range(amount)]
    sheet = {"issues": [["id", "item", "quantity", "run", "stage", "at", "bin"], *rows]}
    held: list[float] = []
    keep, registry = loading.registry.event_door(), loading.registry
    done = threading.Event()

    def timed(context, rows):
        began = time.perf_counter()
        keep(context, rows)
        held.append(time.perf_counter() - began)

    registry.register_event_door(timed)
    during: dict[str, list[float]] = {"OTHER": [], "TOUCHED": []}

    def loads():
        try:
            return _seconds(lambda: load(sheet, slug="beside"))
        finally:
            done.set()

    def hand_outs(item):
        while not done.is_set():
            during[item.code].append(_seconds(lambda: handed(item, 1, run, bin="A")))
            time.sleep(0.02)

    whole, *_ = at_once(loads, lambda: hand_outs(other), lambda: hand_outs(touched))
    registry.register_event_door(keep)
    untouched = statistics.median(during["OTHER"])
    print(f"a hand-out of another item during a load of {amount} rows: {untouched / alone:.2f} x one alone (at most 3)")
    print(
        f"a hand-out of its item: at most {max(during['TOUCHED']):.2f} s; the load takes {whole:.2f} s, "
        f"its events {held[0]:.2f} s = {held[0] / whole:.2f} of it (at most 0.2)"
    )


def _seconds(act) -> float:
    began = time.perf_counter()
    act()
    return time.perf_counter() - began


def main(amount: int) -> None:
    """Run all three."""
    same_books(amount)
    batch_beside_load()
    hand_out_beside_load(amount)


if __name__ == "__main__":
    found = setup_databases(verbosity=0, interactive=False)
    try:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
    finally:
        teardown_databases(found, verbosity=0)

"""
Records at size: the same books in any order, a batch beside a load, and a hand-out beside a load.

    DATABASE_URL=postgres://… python -m tests.benchmarks.records [AMOUNT]

Makes a test database and drops it. A history of AMOUNT records (10 000) is loaded as sheets into one site, and sent
to another shuffled, in batches of any size, each one to three times, by three senders at once (one after the other on
SQLite). Then, each as a ratio: a record in a batch of 200 to the same record in a load; a hand-out during a load of
AMOUNT rows, and during a dry run, to one alone; and the longest that one of an item of the load waits, to the load.
"""
# ruff: noqa: E402  # models can be imported once Django is set up

import io
import multiprocessing
import os
import statistics
import sys
import time
from functools import partial
from multiprocessing.connection import Connection

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
os.environ.setdefault("SECRET_KEY", "benchmark")
os.environ["DEBUG"] = "False"

import django

django.setup()

from django.db import connection, connections
from django.test.utils import setup_databases, teardown_databases

from kits.audit.proofs import prove_site
from takeoff.models import Item, Run, SetAside, Site, User
from takeoff.sheets.files.sources import read_file
from takeoff.sheets.services import load_sheets
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory
from tests.kits.histories import as_sheets, batches, history, store
from tests.kits.makers import handed, stocked
from tests.races.test_histories import books, send_all
from tests.races.together import at_once
from tests.takeoff.sheets.books import load, workbook


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
    """
    Print what a hand-out takes during a load, as a ratio to one alone, and how long the load keeps one waiting.

    The load runs in a process of its own, as the worker of the page does: one interpreter lets one thread work at a
    time, so in one process the two would wait for each other without any lock.
    """
    site = SiteFactory(slug="beside")
    touched, other = (ItemFactory(site=site, code=code) for code in ("TOUCHED", "OTHER"))
    run = RunFactory(site=site, name="R")
    for item in (touched, other):
        stocked(item, 10 * amount, "A")
        handed(item, 1, run, bin="A")
    alone = statistics.median(_seconds(lambda: handed(other, 1, run, bin="A")) for _ in range(50))
    for dry_run in (True, False):
        rows = [[f"load-{n}", "TOUCHED", 1, "R", "seals", "2026-03-03", "A"] for n in range(amount)]
        book = workbook({"issues": [["id", "item", "quantity", "run", "stage", "at", "bin"], *rows]})
        connections.close_all()
        mine, theirs = multiprocessing.Pipe()
        child = multiprocessing.get_context("fork").Process(target=_load_apart, args=(theirs, book, dry_run))
        child.start()
        during = at_once(*[partial(_hand_outs, item, run, mine) for item in (other, touched)])
        seconds = mine.recv()
        child.join()
        untouched, most = statistics.median(during[0]), max(during[1])
        what = "a dry run" if dry_run else "a load"
        print(f"during {what} of {amount} rows ({seconds:.2f} s): a hand-out of another item", end=" ")
        print(f"{untouched / alone:.2f} x one alone (at most 3), at most {max(during[0]):.2f} s;", end=" ")
        print(f"of its item at most {most:.2f} s = {most / seconds:.2f} of it (at most 0.2)")


def _load_apart(told: Connection, book: bytes, dry_run: bool) -> None:
    began = time.perf_counter()
    result = load_sheets(sheets=read_file(io.BytesIO(book), "issues.xlsx"), slug="beside", dry_run=dry_run)
    told.send(time.perf_counter() - began)
    assert not result.problems


def _hand_outs(item: Item, run: Run, load: Connection) -> list[float]:
    """Hand out until the load is done, and return how long each took; it comes too late to be counted after that."""
    took = []
    while not load.poll():
        took.append(_seconds(lambda: handed(item, 1, run, bin="A")))
        time.sleep(0.02)
    return took


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

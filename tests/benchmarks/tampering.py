"""
What the audit sees of rows changed, deleted or put in by plain SQL, and what it costs that it does.

    python -m tests.benchmarks.tampering [HOW_MANY]            # SQLite in a file, as the settings have it
    DATABASE_URL=postgres://… python -m tests.benchmarks.tampering

Makes a test database and drops it. HOW_MANY (200) rows, one at a time, by a fixed seed: all must be seen. Then what a
record costs beside one where nothing is linked, in turns in the same run; and the chain of MOVES moves: what linking
and walking it takes, and how much more memory than the first tenth of them.
"""
# ruff: noqa: E402  # models can be imported once Django is set up

import os
import statistics
import sys
import tempfile
import time
import tracemalloc
from decimal import Decimal
from pathlib import Path
from random import Random
from unittest.mock import patch

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
os.environ.setdefault("SECRET_KEY", "benchmark")
os.environ["DEBUG"] = "False"  # with debug on, Django keeps every query

import django

django.setup()

from django.conf import settings
from django.db import connection
from django.test.utils import setup_databases, teardown_databases
from django.utils import timezone

from kits.models import Move, Posting
from takeoff.chain import services
from takeoff.chain.queries import broken_links
from takeoff.database.append_only import install_guards, lift_guards
from takeoff.database.bulk import insert_rows
from takeoff.models import Link
from tests.factories.takeoff import ItemFactory, PlaceFactory, RunFactory, SiteFactory
from tests.kits.audit.tampering import faults, tamper, whole_books
from tests.kits.makers import handed, stocked
from tests.lock_order import undone

ROUNDS, ACTS = 8, 60
MOVES = 100_000


def all_seen(how_many: int) -> None:
    """Print how many of so many tamperings the audit sees, and those that it does not."""
    with undone(), tempfile.TemporaryDirectory() as folder:
        settings.PHOTOS_DIR = Path(folder) / "photos"
        site = whole_books(Path(folder) / "sheets")
        assert not faults(site)
        lift_guards(connection)
        seen = 0
        for seed in range(how_many):
            with undone():
                done = tamper(Random(seed))
                if faults(site):
                    seen += 1
                else:
                    print(f"  not seen: {done}")
        print(f"{connection.vendor}: {seen} of {how_many} tamperings seen (to reach: all)")


def beside_no_chain() -> None:
    """Print what a hand-out takes with the chain and without, which take turns."""
    site = SiteFactory(slug="cost")
    item, run = ItemFactory(site=site, code="LUG"), RunFactory(site=site, name="R")
    stocked(item, 10**6, "A")
    times: dict[bool, list[float]] = {True: [], False: []}
    for round_ in range(ROUNDS + 1):
        for chained in (True, False):
            with patch.object(services, "_link_in_passing", services._link_in_passing if chained else lambda _: None):
                began = time.perf_counter()
                for _ in range(ACTS):
                    handed(item, 1, run, bin="A")
                if round_:  # the first warms up
                    times[chained].append((time.perf_counter() - began) / ACTS)
            services.link_rows(site)  # what the next round would find waiting
    typical = {chained: statistics.median(seconds) for chained, seconds in times.items()}
    links = Link.objects.of(site).count()
    print(
        f"{connection.vendor}: a hand-out {typical[True] * 1000:.1f} ms, {typical[False] * 1000:.1f} without chain:",
        end=" ",
    )
    print(f"{typical[True] / typical[False]:.2f} times (to reach: 1.1); {links} links")


def at_size() -> None:
    """Print what it takes to link and to walk many moves, and the most memory, after a tenth of them and after all."""
    site = SiteFactory(slug="size")
    source, target = PlaceFactory(site=site, name="A"), PlaceFactory(site=site, name="B")
    item = ItemFactory(site=site, code="LUG")
    for moves in (MOVES // 10, MOVES - MOVES // 10):
        now = timezone.now()
        start = Posting.objects.of(site).count()
        postings = [
            Posting(site=site, event_id=f"m{start + n}", kind="issue", content_hash="0" * 64, at=now, recorded_at=now)
            for n in range(moves)
        ]
        insert_rows(postings)
        rows = [Move(posting=each, item=item, source=source, target=target, quantity=Decimal(1)) for each in postings]
        insert_rows(rows, keys=False, model=Move)
        del postings, rows
        tracemalloc.start()
        began = time.perf_counter()
        linked = services.link_rows(site, all_keys=True)
        middle = time.perf_counter()
        assert not list(broken_links(site))
        ended = time.perf_counter()
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        print(f"{connection.vendor}: {linked} moves linked in {middle - began:.1f} s, all walked in", end=" ")
        print(f"{ended - middle:.1f} s, at most {most / 2**20:.1f} MB")


def main(how_many: int) -> None:
    """Run all three."""
    all_seen(how_many)
    install_guards(connection)
    beside_no_chain()
    at_size()


if __name__ == "__main__":
    kept = setup_databases(verbosity=0, interactive=False)
    try:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
    finally:
        teardown_databases(kept, verbosity=0)

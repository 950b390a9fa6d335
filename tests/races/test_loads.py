"""A load beside people who hand out, cut, report stages and plan; and two loads of one site."""

import contextlib
import threading
from functools import partial

import pytest
from django.db import OperationalError, connection

from kits.audit.proofs import prove_site
from kits.models import Posting
from kits.overview.services import answer_use, plan_stage, report_stage
from kits.stock.places import Places
from reels.planner.options import Options
from reels.plans.models import CutPlan
from reels.plans.services import ask_for_plan
from takeoff.models import Record, Stage
from takeoff.records.batch import Batch
from takeoff.records.services import keep_one
from takeoff.rules.services import overrule
from takeoff.runs.services import derive_conductors
from takeoff.sheets import services as loading
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import ItemFactory, RunFactory, SiteFactory, TakeoffLineFactory
from tests.kits.makers import handed, lying, stocked
from tests.races.together import at_once, meeting
from tests.reels.makers import cut
from tests.takeoff.sheets.books import load

pytestmark = pytest.mark.django_db(transaction=True)
ON_POSTGRESQL = pytest.mark.skipif(connection.vendor != "postgresql", reason="on SQLite the transaction is the lock")
ROWS = 60


@pytest.fixture
def site():
    return SiteFactory(slug="north")


@pytest.fixture
def items(site):
    found = [ItemFactory(site=site, code=f"I{number:02}") for number in range(6)]
    for item in found:
        stocked(item, 500)
    return found


@pytest.fixture
def run(site, items):
    run = RunFactory(site=site, name="BUS-1")
    derive_conductors(site=site, runs=[run])
    Places(site).handed_out(run, "seals")  # who makes a place waits until whoever makes it at the same time is done
    return run


def sheets(items, run, name="L") -> dict:
    """A load that changes every item, from the last to the first, and hands out of each."""
    header = ["id", "item", "quantity", "run", "stage", "at", "bin"]
    backwards = [item.code for item in reversed(items)]
    issues = [
        [f"{name}-{number}", backwards[number % len(backwards)], 1, run.name, "seals", "2026-03-02", "Store"]
        for number in range(ROWS)
    ]
    described = [[code, f"now {name}", "each"] for code in backwards]
    return {"items": [["item", "description", "unit"], *described], "issues": [header, *issues]}


def test_a_load_and_many_hand_outs_all_go_through(site, items, run):
    acts = [partial(handed, item, 1, run, bin="Store") for _ in range(4) for item in items]
    load_all = [partial(load, sheets(items, run, name), slug="north") for name in "AB"]
    results = at_once(*load_all, *acts)
    assert [type(result).__name__ for result in results] == ["LoadResult"] * 2 + ["Posting"] * len(acts)
    assert all(result.loaded for result in results[:2])
    assert Posting.objects.of(site).filter(kind="issue").count() == 2 * ROWS + len(acts)
    assert [lying(item)["bin Store"] for item in items] == [500 - 4 - 2 * ROWS // len(items)] * len(items)
    assert all(proof.holds for proof in prove_site(site))


@pytest.fixture
def during_a_dry_run(site, items, run, monkeypatch):
    """What returns or raises somebody's work while a dry run, all of its rows at work, waits for it to end."""
    keep = loading.registry.event_door()

    def during(work, tables, patience=20):
        at_work, done = threading.Event(), threading.Event()

        def slowly(context, rows):
            keep(context, rows)
            at_work.set()
            assert done.wait(patience), "the work waited for the dry run"

        def work_meanwhile():
            assert at_work.wait(20)
            try:
                return work()
            finally:
                done.set()

        monkeypatch.setattr(loading.registry, "event_door", lambda: slowly)
        result, worked = at_once(partial(load, tables, slug="north", dry_run=True), work_meanwhile)
        if isinstance(result, AssertionError):
            raise result
        assert (result.loaded, result.problems) == (False, [])
        return worked

    return during


@ON_POSTGRESQL
@pytest.mark.parametrize("tables", [["issues"], ["suppliers", "issues"]], ids=["events", "descriptions and events"])
def test_a_dry_run_keeps_nobody_from_the_items_that_it_is_about(site, items, run, during_a_dry_run, tables):
    all_tables = {**sheets(items, run), "suppliers": [["supplier", "email"], ["New", "new@example.com"]]}
    posting = during_a_dry_run(
        partial(handed, items[0], 1, run, bin="Store"), {name: all_tables[name] for name in tables}
    )
    assert isinstance(posting, Posting)
    assert lying(items[0])["bin Store"] == 499
    assert all(proof.holds for proof in prove_site(site))


@ON_POSTGRESQL
def test_a_dry_run_that_locked_would_keep_a_hand_out_waiting(items, run, during_a_dry_run, monkeypatch):
    monkeypatch.setattr(loading, "rehearsal", lambda _meant: contextlib.nullcontext())
    issues = {"issues": sheets(items, run)["issues"]}
    with pytest.raises(AssertionError, match="the work waited for the dry run"):
        during_a_dry_run(partial(handed, items[0], 1, run, bin="Store"), issues, patience=2)


def test_a_load_that_was_crossed_is_taken_from_its_start_once_more(site, items, run, monkeypatch):
    """Where the database breaks off one of two who wait for each other, the load begins again and is kept once."""
    keep, times = loading.registry.event_door(), []

    def crossed_at_first(context, rows):
        times.append(len(rows))
        keep(context, rows)
        if len(times) == 1:
            raise OperationalError("deadlock detected")

    monkeypatch.setattr(loading.registry, "event_door", lambda: crossed_at_first)
    told: list[tuple[int, int]] = []
    result = load(sheets(items, run), slug="north", progress=lambda done, total: told.append((done, total)))
    assert (times, result.loaded, result.problems) == ([ROWS, ROWS], True, [])
    assert {table.name: table.counts["new"] + table.counts["changed"] for table in result.tables} == {
        "items": len(items), "issues": ROWS}  # fmt: skip
    assert told[-1] == (132, 132)
    assert [lying(item)["bin Store"] for item in items] == [500 - ROWS // len(items)] * len(items)


def test_an_id_that_a_load_and_a_page_report_at_once_is_kept_once(site, items, run, monkeypatch):
    """The load has stored its records before it locks; whoever comes second begins anew and finds the first."""
    monkeypatch.setattr(Batch, "lock", meeting(Batch.lock))
    rows = {"issues": sheets(items, run)["issues"]}
    header, first = rows["issues"][:2]
    said = {**dict(zip(header, first, strict=True)), "at": "2026-03-02"}
    result, record = at_once(partial(load, rows, slug="north"), partial(keep_one, site=site, kind="issues", row=said))
    assert (result.loaded, result.problems, record.event_id) == (True, [], "L-0")
    assert (
        Posting.objects.of(site).filter(kind="issue").count() == Record.objects.of(site).filter(kind="issues").count()
    )
    assert [lying(item)["bin Store"] for item in items] == [500 - ROWS // len(items)] * len(items)
    assert all(proof.holds for proof in prove_site(site))


@pytest.fixture
def two_loads(site, monkeypatch):
    """Two loads that bring the same new items, each of which has begun before the other writes, where it can."""
    monkeypatch.setattr(loading, "take_turns_at_loading", meeting(loading.take_turns_at_loading))
    new = {"items": [["item", "description", "unit"], *([f"N{number}", "new", "each"] for number in range(3))]}
    return [partial(load, new, slug="north")] * 2


def test_two_loads_of_one_site_take_turns(two_loads):
    """The one that comes second sees what the first has kept."""
    results = at_once(*two_loads)
    assert sorted(result.tables[0].counts["new"] for result in results) == [0, 3]
    assert sorted(result.tables[0].counts["unchanged"] for result in results) == [0, 3]


@ON_POSTGRESQL
def test_without_taking_turns_one_of_two_loads_breaks_off(two_loads, monkeypatch):
    monkeypatch.setattr("takeoff.database.locks.TRIES", 1)
    monkeypatch.setattr(loading, "take_turns_at_loading", lambda site: None)
    monkeypatch.setattr(loading._Load, "_lock", meeting(lambda self, tables: None))
    results = at_once(*two_loads)
    assert sorted(type(result).__name__ for result in results) == ["IntegrityError", "LoadResult"]


def test_a_load_beside_cuts_stages_and_plans(site, items, run):
    reels = [
        ReelFactory(site=site, tag=f"R{number}", outer_mark=0, inner_mark=1000, cable=run.cable) for number in range(3)
    ]
    runs = [
        ["run", "from", "to", "tiers", "phases", "cables_per_phase", "cable"],
        ["BUS-1", "A", "B", 1, 3, 2, "500-CU"],
    ]
    ends = [["run", "end", "stick_out"], ["BUS-1", "from", "3 ft"], ["BUS-1", "to", "3 ft"]]
    sections = [["run", "seq", "kind", "length"], *(["BUS-1", number, "straight", "9 ft"] for number in range(1, 9))]
    described = {"runs": runs, "ends": ends, "sections": sections}
    done = partial(report_stage, site=site, run=run, done=site.today())
    acts = [
        partial(load, {**described, **sheets(items, run)}, slug="north"),
        *[partial(cut, reel, 10 * n, 10 * n + 5) for n in range(3) for reel in reels],
        *[partial(done, stage=stage) for stage in ("seals", "covers")],
        partial(ask_for_plan, site=site, cable=run.cable, options=Options()),
    ]  # fmt: skip
    results = at_once(*acts)
    assert [str(result) for result in results if isinstance(result, Exception)] == []
    assert {row.stage for row in Stage.objects.of(site).filter(done__isnull=False)} == {"seals", "covers"}
    assert CutPlan.objects.of(site).count() == 1
    assert all(proof.holds for proof in prove_site(site))


def test_a_stage_reported_twice_at_once_and_a_quantity_set_twice_are_kept_once(site, items, run):
    said = partial(report_stage, site=site, run=run, stage="seals", done=site.today())
    planned = partial(plan_stage, site=site, run=run, stage="seals", planned=site.today())
    setting = partial(overrule, run=run, item=items[0], stage="seals", quantity=3, reason="sheet 4")
    results = at_once(said, said, planned, planned, setting, setting)
    assert [str(result) for result in results if isinstance(result, Exception)] == []
    assert run.stage_reports.filter(stage="seals").count() == 1
    row = run.stages.get(stage="seals")
    assert (row.planned, site.local_date(row.done)) == (site.today(), site.today())
    assert run.overrides.count() == 1


def test_a_finished_stage_answered_for_twice_at_once_is_handed_out_once(site, items, run):
    report_stage(site=site, run=run, stage="seals", done=site.today())
    TakeoffLineFactory(takeoff__run=run, item=items[0], stage="seals", quantity=2)
    answer = partial(answer_use, site=site, run=run, stage="seals", items={items[0].pk})
    results = at_once(answer, answer)
    assert [str(result) for result in results if isinstance(result, Exception)] == []
    assert sorted(map(len, results)) == [0, 1]
    assert Posting.objects.of(site).filter(kind=Posting.Kind.ISSUE).count() == 1

"""The number of queries does not grow with the rows, and what is held cannot vanish."""

from copy import deepcopy

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from takeoff.models import Conductor, Site
from tests.factories.reels import CutFactory, ReelFactory
from tests.factories.takeoff import CableFactory
from tests.takeoff.sheets.books import CATALOGUE, RULES, RUNS, SITE, load, told

pytestmark = pytest.mark.django_db


def many(runs: int) -> dict:
    """Return a package of so many runs, each with every part."""
    tables = {**SITE, **deepcopy(CATALOGUE), **RULES, **{name: [rows[0]] for name, rows in RUNS.items()}}
    for number in range(runs):
        for name, rows in RUNS.items():
            tables[name] += [[f"{row[0]}-{number}", *row[1:]] for row in rows[1:]]
    tables["items"] += [[f"I-{number}", "x", "each", 1, "Bus works", None] for number in range(runs)]
    return tables


@pytest.mark.parametrize("again", [False, True], ids=["new", "unchanged"])
def test_four_times_the_rows_take_hardly_more_queries(again):
    counts = []
    for runs in (3, 12):
        slug = f"s{runs}"
        if again:
            load(many(runs), slug=slug)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert load(many(runs), slug=slug).loaded
        counts.append(len(queries))
    # A statement for every so many parameters is the database's own limit.
    assert counts[1] <= counts[0] + (0 if again else 12), counts


def cut_for(name: str) -> None:
    site = Site.objects.get()
    reel = ReelFactory(site=site, cable=CableFactory(site=site, code="C500"), length=100_000)
    CutFactory(reel=reel, conductor=Conductor.objects.of(site).get(run__name="R-101", name=name), length=10_000)


def test_a_conductor_that_was_cut_cannot_vanish():
    load({**SITE, **CATALOGUE, **RUNS})
    cut_for("B2")
    fewer = deepcopy(RUNS["runs"])
    fewer[1][5] = 1
    fewer[2][5] = 2  # the other run gains some

    result = load({"runs": fewer})

    assert told(result) == [
        "runs, row 2, column cables_per_phase: found 1, expected no fewer conductors: "
        "B2 cannot vanish, for a cut names it"
    ]
    names = Conductor.objects.of(Site.objects.get()).values_list("run__name", "name")
    assert ("R-101", "A2") in names
    assert ("R-102", "A2") not in names


def test_another_cable_reaches_the_conductors_that_are_there():
    load({**SITE, **CATALOGUE, **RUNS})
    other = deepcopy(RUNS["runs"])
    other[1][6] = "G4/0"

    load({"runs": other})

    site = Site.objects.get()
    kept = dict(Conductor.objects.of(site).filter(run__name="R-101").values_list("name", "cable__code"))
    assert set(kept.values()) == {"G4/0"}
    assert len(kept) == 7

"""A record that comes late can make a past day impossible; it is kept, and told."""

import json
from datetime import date

import pytest
from django.core.management import call_command

from kits.stock.past_days import below_zero_on
from takeoff.models import Site
from tests.kits.sheets import load, site_with, told

pytestmark = pytest.mark.django_db

RECEIPTS = ["id", "shipment", "item", "counted", "at"]
ISSUES = ["id", "item", "quantity", "run", "stage", "at"]


@pytest.fixture
def site():
    assert told(site_with(receipts=[RECEIPTS, ["r1", "S1", "LUG", 60, "2026-03-05 08:00"]])) == []
    return Site.objects.get()


def late(*rows):
    return load({"issues": [ISSUES, *rows]}, confirmed=False)


def test_a_late_record_that_takes_what_was_not_there_is_kept_and_told(site):
    result = late(["i1", "LUG", 3, "NORTH", "seals", "2026-03-02 09:00"])

    assert result.loaded, "what happened is never asked about"
    assert [(caution.sheet, caution.row, caution.asks, caution.text) for caution in result.cautions] == [
        (
            "issues",
            2,
            False,
            "the books of past days cannot be so, a record is missing or wrong: LUG in K1: -3 at the end of 2026-03-02",
        )
    ]
    assert [str(each) for each in below_zero_on(site, date(2026, 3, 4))] == ["LUG in K1: -3 at the end of 2026-03-04"]
    assert below_zero_on(site, date(2026, 3, 1)) == []
    assert below_zero_on(site, date(2026, 3, 5)) == [], "the delivery covers it"


def test_what_comes_in_time_is_not_told_of(site):
    assert late(["i1", "LUG", 3, "NORTH", "seals", "2026-03-06 09:00"]).cautions == []
    late_but_possible = late(["i2", "LUG", 3, "NORTH", "seals", "2026-03-05 09:00"])
    assert (late_but_possible.loaded, late_but_possible.cautions) == (True, [])


def test_reconcile_as_of_such_a_day_says_so_to_machines(site, capsys):
    late(["i1", "LUG", 3, "NORTH", "seals", "2026-03-02 09:00"])
    call_command("reconcile", site="north", as_of=date(2026, 3, 3), json=True)
    assert json.loads(capsys.readouterr().out)["cautions"] == ["LUG in K1: -3 at the end of 2026-03-03"]
    call_command("reconcile", site="north", as_of=date(2026, 3, 5), json=True)
    assert json.loads(capsys.readouterr().out)["cautions"] == []

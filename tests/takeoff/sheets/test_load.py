"""A whole drawing package goes in, once."""

from copy import deepcopy
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from takeoff.models import (
    Cable,
    Conductor,
    Item,
    Measurement,
    Record,
    RuleBook,
    Run,
    Section,
    Site,
    Stage,
    Supplier,
    TakeoffLine,
)
from takeoff.records.row_hashes import row_hash
from takeoff.records.services import keep_one
from takeoff.sites.models import StageName
from tests.takeoff.sheets.books import CATALOGUE, PACKAGE, RUNS, SITE, load, told

pytestmark = pytest.mark.django_db


def test_a_package_creates_its_site_and_everything_on_it():
    result = load(PACKAGE)

    assert told(result) == []
    assert result.loaded
    site = Site.objects.get(slug="north")
    assert (site.name, site.unit, site.timezone) == ("North yard", "ft", "America/Chicago")
    assert Supplier.objects.of(site).get().email == "orders@example.com"
    seal = Item.objects.of(site).get(code="SEAL")
    assert (seal.contents, seal.contents_unit, seal.pack) == (Decimal("10.1"), "fl oz", 12)
    cable = Cable.objects.of(site).get(code="C500")
    assert (cable.size, cable.material, cable.diameter) == ("500", "Cu", Decimal("25.4762"))
    assert cable.buy_lengths == [1_524_000_000, 3_048_000_000]
    run = Run.objects.of(site).get(name="R-101")
    assert (run.slack, run.voltage_class, run.ground_cable.code) == (Decimal("0.02"), "LV", "G4/0")
    assert [str(end.stick_out) for end in run.ends.order_by("end")] == ["1828.8", "2133.6"]
    assert [section.length for section in run.sections.all()] == [
        Decimal("3657.6"),
        Decimal("1435.1"),
        Decimal("3657.6"),
    ]
    assert run.crossings.get().fire_rated
    assert TakeoffLine.objects.of(site).filter(takeoff__run=run, item__code="BLK-M").exists()


def test_every_conductor_that_a_run_has_is_made_with_its_cable():
    load(PACKAGE)

    made = Conductor.objects.of(Site.objects.get()).filter(run__name="R-101").order_by("name")
    assert [(each.name, each.cable.code, each.tier, each.position) for each in made] == [
        ("A1", "C500", 1, 1),
        ("A2", "C500", 2, 1),
        ("B1", "C500", 1, 2),
        ("B2", "C500", 2, 2),
        ("C1", "C500", 1, 3),
        ("C2", "C500", 2, 3),
        ("G1", "G4/0", None, None),
    ]
    assert all(each.length > 0 for each in made)


def test_loading_the_same_package_again_changes_nothing():
    first = load(PACKAGE)
    before = [
        (model, list(model.objects.of(Site.objects.get()).order_by("pk").values()))
        for model in (Run, Section, Item, Stage)
    ]

    again = load(PACKAGE)

    assert again.loaded
    for table in again.tables:
        assert table.counts == {"new": 0, "changed": 0, "removed": 0, "unchanged": sum(first_count(first, table.name))}
    assert before == [
        (model, list(model.objects.of(Site.objects.get()).order_by("pk").values())) for model, _ in before
    ]
    assert RuleBook.objects.of(Site.objects.get()).count() == 1


def first_count(result, name):
    return next(table.counts.values() for table in result.tables if table.name == name)


def test_a_dry_run_says_the_same_and_keeps_nothing():
    dry = load(PACKAGE, dry_run=True)

    assert not dry.loaded
    assert not Site.objects.exists()
    wet = load(PACKAGE)
    assert [table.counts for table in dry.tables] == [table.counts for table in wet.tables]


def test_a_sheet_that_leaves_a_column_out_keeps_what_is_there_and_an_empty_cell_sets_the_default():
    load(PACKAGE)
    site = Site.objects.get()

    load({"items": [["item", "description", "unit"], ["SEAL", "Sealant, butyl", "cartridge"]]})
    assert Item.objects.of(site).get(code="SEAL").pack == 12

    result = load({"items": [["item", "description", "unit", "pack"], ["SEAL", "Sealant, butyl", "cartridge", None]]})
    assert Item.objects.of(site).get(code="SEAL").pack == 1
    assert [change.details for table in result.tables for change in table.changes] == [("pack: 12 → 1",)]


def test_a_changed_rule_says_what_it_was_and_what_it_would_be():
    load(PACKAGE)
    heads, first, *others = PACKAGE["rules"]
    changed = [value if head != "spacing" else "9 ft" for head, value in zip(heads, first, strict=True)]

    result = load({"rules": [heads, changed, *others]})

    assert [change.details for change in result.tables[0].changes] == [("spacing: 3' 0\" → 9' 0\"",)]


def test_rows_of_a_run_replace_its_sections_and_no_others():
    load(PACKAGE)
    site = Site.objects.get()

    result = load(
        {
            "sections": [
                ["run", "seq", "kind", "length", "gone"],
                ["R-101", 1, "straight", "12 ft", None],
                ["R-101", 2, "tee", 3, None],
                ["R-101", 3, "straight", "12 ft", "yes"],
            ]
        }
    )

    assert result.tables[0].counts == {"new": 0, "changed": 2, "removed": 1, "unchanged": 0}
    assert [(each.run.name, each.seq, each.kind) for each in Section.objects.of(site)] == [
        ("R-101", 1, "straight"),
        ("R-101", 2, "tee"),
        ("R-102", 1, "straight"),
    ]


def test_a_date_alone_is_the_end_of_that_day_on_site():
    load(PACKAGE)

    stage = Stage.objects.of(Site.objects.get()).get(stage="enclosure")
    assert stage.planned == date(2026, 3, 2)
    # 2026-03-04 ends at 06:00 UTC of the fifth in Chicago.
    assert stage.done == datetime(2026, 3, 5, 5, 59, 59, 999999, tzinfo=UTC)


def test_an_as_built_length_is_added_once_and_the_latest_counts():
    measured = {"runs": [[*RUNS["runs"][0], "as_built_length"], [*RUNS["runs"][1], "29 ft"]]}
    load(PACKAGE)
    site = Site.objects.get()

    assert load(measured).tables[0].counts["changed"] == 1
    assert load(measured).tables[0].counts["unchanged"] == 1
    load({"runs": [measured["runs"][0], [*RUNS["runs"][1], "29' 3\""]]})

    assert [str(each.length) for each in Measurement.objects.of(site)] == ["8839.2", "8915.4"]
    load(PACKAGE)
    assert Measurement.objects.of(site).count() == 2


def test_what_sheets_of_runs_tell_as_happened_is_kept_as_records_that_can_be_taken_back():
    load(PACKAGE)
    site = Site.objects.get()
    first = Record.objects.of(site).get(kind="stage_reports")
    load({"runs": [[*RUNS["runs"][0], "as_built_length"], [*RUNS["runs"][1], "29 ft"]]})
    load({"stages": [["run", "stage", "done"], ["R-101", "enclosure", "2026-03-05"], ["R-101", "cables", None]]})
    later = Record.objects.of(site).get(kind="stage_reports", row__done__startswith="2026-03-06")
    measured = Record.objects.of(site).get(kind="lengths")
    assert measured.row == {
        "id": measured.event_id,
        "at": measured.row["at"],
        "run": "R-101",
        "length": "8839.2 mm",
        "note": "loaded from a sheet",
    }
    assert measured.row_hash == row_hash("lengths", measured.row)
    assert Measurement.objects.of(site).get().event_id == measured.event_id

    def taken_back(record):
        said = {"id": f"r{record}", "reverses": record.event_id, "at": timezone.now(), "reason": "wrong run"}
        keep_one(site=site, kind="reversals", row=said)

    taken_back(later)
    assert Stage.objects.of(site).get(stage="enclosure").done == parse_datetime(first.row["done"])
    taken_back(measured)
    assert not Measurement.objects.of(site).exists()


def test_a_hundred_stages_are_reported_in_as_many_queries_as_one(django_assert_max_num_queries):
    load({**SITE, **CATALOGUE, **RUNS})
    with CaptureQueriesContext(connection) as few:
        load({"stages": [["run", "stage", "done"], ["R-102", "covers", "2026-03-04"]]})
    rows = [[run, stage, "2026-03-05"] for run in ("R-101", "R-102") for stage in StageName.values]
    with django_assert_max_num_queries(len(few) + 2):
        load({"stages": [["run", "stage", "done"], *rows]})


def test_a_section_measured_on_site_keeps_its_drawn_length():
    load(PACKAGE)
    site = Site.objects.get()
    rows = [["run", "seq", "kind", "length", "as built"], ["R-102", 1, "straight", "20 ft", "20' 1\""]]

    load({"sections": rows})
    assert load({"sections": rows}).tables[0].counts["unchanged"] == 1

    assert Section.objects.of(site).get(run__name="R-102").length == Decimal(6096)
    assert Measurement.objects.of(site).get().section_seq == 1
    moved = [["R-102", 1, "straight", "20 ft", "yes"], ["R-102", 2, "straight", "20 ft", "no"]]
    load({"sections": [["run", "seq", "kind", "length", "gone"], *moved]})
    assert not Measurement.objects.of(site).exists()


def test_fewer_cables_take_conductors_away():
    load(PACKAGE)
    fewer = deepcopy(RUNS["runs"])
    fewer[1][5] = 1

    load({"runs": fewer})

    names = Conductor.objects.of(Site.objects.get()).filter(run__name="R-101").values_list("name", flat=True)
    assert sorted(names) == ["A1", "B1", "C1", "G1"]


def test_bare_numbers_are_in_the_unit_of_the_site():
    catalogue = deepcopy(CATALOGUE)
    catalogue["cables"][1][1] = "500 kcmil"
    load({"site": [["name", "unit"], ["South yard", "m"]], **catalogue, **RUNS}, slug="south")

    section = Section.objects.of(Site.objects.get(slug="south")).get(run__name="R-101", seq=3)
    assert section.length == 12_000


def test_the_site_sheet_reads_its_own_lengths_in_its_own_unit():
    load({"site": [["name", "unit", "keep_length", "service_level"], ["South yard", "m", 9, "90%"]]}, slug="south")

    site = Site.objects.get(slug="south")
    assert (site.keep_length, site.service_level) == (9000, Decimal("0.9"))


def test_a_second_site_is_not_touched():
    load(PACKAGE)
    load(PACKAGE, slug="south")

    load({"items": [["item", "description", "unit"], ["SEAL", "other", "tube"]]}, slug="south")

    assert Item.objects.of(Site.objects.get(slug="north")).get(code="SEAL").unit == "cartridge"


def test_progress_reaches_its_end():
    heard = []
    load({**SITE, **CATALOGUE}, progress=lambda done, total: heard.append((done, total)))

    assert heard[-1][0] == heard[-1][1] == 2 * (1 + 1 + 3 + 2)
    assert heard == sorted(heard)


def test_an_address_keeps_its_lines_and_a_name_does_not():
    load({"site": [["name", "ship to"], ["North\n yard", "Gate 2\r\n  Yard road 1\n"]]})

    site = Site.objects.get()
    assert (site.name, site.ship_to) == ("North yard", "Gate 2\nYard road 1")

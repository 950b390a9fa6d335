"""A site in metres, somewhere else: sheets as its country writes them, sizes of both kinds, clocks that change."""

import io
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from openpyxl import load_workbook

from takeoff.models import Cable, Item, Section, Site, Stage
from takeoff.sheets.files.blank import empty_workbook
from takeoff.sheets.files.sources import read_file
from takeoff.sheets.registry import tables
from takeoff.sheets.services import load_sheets
from tests.takeoff.sheets.books import load, told

pytestmark = pytest.mark.django_db

SITE = {"site": [["name", "unit", "country", "timezone"], ["Nord", "m", "NO", "Europe/Oslo"]]}
CABLES = [["item", "size", "material", "diameter (mm)", "weight"]]
RUNS = [["run", "from", "to", "tiers", "phases", "cables_per_phase", "cable"], ["R", "a", "b", 1, 3, 1, "C"]]


def csv(name: str, text: str) -> list:
    return read_file(io.BytesIO(text.encode()), f"{name}.csv")


def test_sheets_are_read_as_the_country_of_the_site_writes_them():
    load({**SITE, "cables": [*CABLES, ["C", "300 mm2", "Cu", "25,4", "2420,5 kg/km"]], "runs": RUNS})
    sheets = csv("items", "item;description;unit;pack;min_order\nA;x;each;18 500;2,5\n")
    sheets += csv("sections", "run;seq;kind;length\nR;1;straight;3,048\nR;2;straight;1 200,5 mm\n")
    sheets += csv("stages", "run;stage;planned;done\nR;enclosure;11.01.2027;11.01.2027 14:30\n")

    result = load_sheets(sheets=sheets, slug="north", confirmed=True)

    assert told(result) == []
    assert (Item.objects.get().pack, Item.objects.get().min_order) == (Decimal(18500), Decimal("2.5"))
    assert [section.length for section in Section.objects.order_by("seq")] == [Decimal(3048), Decimal("1200.5")]
    assert Stage.objects.get().planned == date(2027, 1, 11)
    assert Stage.objects.get().done == datetime(2027, 1, 11, 13, 30, tzinfo=UTC)
    assert (Cable.objects.get().diameter, Cable.objects.get().weight) == (Decimal("25.4"), Decimal("2420.5"))


def test_the_sheet_of_the_site_is_read_by_the_country_that_it_names():
    load({"site": [["name", "unit", "country", "keep_length"], ["Nord", "m", "no", "10,5"]]})
    assert (Site.objects.get().country, Site.objects.get().keep_length) == ("NO", Decimal(10_500))


def test_what_is_no_country_is_refused():
    assert told(load({"site": [["name", "country"], ["Nord", "Norge"]]})) == [
        "site, row 2, column country: found Norge, expected the two letters of a country, such as US or NO"
    ]


def test_elsewhere_the_same_cells_are_refused_by_name_of_what_is_wrong():
    load({"site": [["name"], ["North"]], "cables": [*CABLES, ["C", "500", "Cu", "1", None]], "runs": RUNS})
    result = load(
        {
            "items": [["item", "description", "unit", "pack", "min_order"], ["A", "x", "each", "18 500", "2,5"]],
            "stages": [["run", "stage", "planned"], ["R", "enclosure", "01/11/2027"]],
        }
    )
    assert told(result) == [
        "items, row 2, column pack: found 18 500, expected 18500 without spaces",
        "items, row 2, column min_order: found 2,5, expected 2.5 with a point before decimals",
        "stages, row 2, column planned: found 01/11/2027, expected a date such as 2026-03-04: 01/11/2027 can be two "
        "days, since no country is told",
    ]


@pytest.mark.parametrize(("size", "unit"), [(300, "kcmil"), ("400", "kcmil"), (500, "kcmil"), (10, "AWG"), (4, "AWG")])
def test_a_bare_size_of_both_kinds_is_refused_on_a_site_in_metres(size, unit):
    assert told(load({**SITE, "cables": [*CABLES, ["C", size, "Cu", 20, None]]})) == [
        f"cables, row 2, column size: found {size}, expected a size with its unit: {size} {unit} or {size} mm2"
    ]


@pytest.mark.parametrize(("head", "size", "kept"), [("size (mm2)", 300, "300 mm2"), ("size (kcmil)", "500", "500")])
def test_the_header_gives_bare_sizes_their_unit(head, size, kept):
    heads = [head if each == "size" else each for each in CABLES[0]]
    assert told(load({**SITE, "cables": [heads, ["C", size, "Cu", 20, None], ["G", "4/0 AWG", "Cu", 20, None]]})) == []
    assert {cable.code: cable.size for cable in Cable.objects.all()} == {"C": kept, "G": "4/0"}


def test_a_bare_limit_of_a_rule_is_refused_alike():
    load({**SITE, "items": [["item", "description", "unit"], ["A", "x", "each"]]})
    heads = ["rule", "item", "stage", "counted_on", "measure", "amount", "source", "ground_max"]
    row = ["clamps", "A", "enclosure", "run", "each", 1, "common practice", 300]
    assert told(load({"rules": [heads, row]})) == [
        "rules, row 2, column ground_max: found 300, expected a size with its unit: 300 kcmil or 300 mm2"
    ]


@pytest.mark.parametrize(
    ("done", "text"),
    [
        ("2027-03-28 02:30", "does not exist, since clocks go forward that night: taken as 03:30"),
        ("2027-10-31 02:30", "exists twice, since clocks go back that night: taken as the first"),
        ("2027-10-31 02:30+01:00", ""),
        ("2027-10-31 03:30", ""),
    ],
)
def test_a_time_that_does_not_exist_or_exists_twice_is_asked_about(done, text):
    # Summer time in Europe: from the last Sunday of March to that of October, 01:00 UTC (directive 2000/84/EC).
    load({**SITE, "cables": [*CABLES, ["C", "300 mm2", "Cu", 20, None]], "runs": RUNS})
    result = load({"stages": [["run", "stage", "done"], ["R", "enclosure", done]]})
    found = [caution.text for caution in result.asked if caution.text != "lies in the future"]
    assert found == ([text] if text else [])


def test_a_site_in_metres_has_round_defaults_of_its_own():
    load({"site": [["name", "unit"], ["Nord", "m"]]})
    site = Site.objects.get()
    assert (site.keep_length, site.safety_tail, site.set_tolerance) == (10_000, 300, 150)
    load({"site": [["name"], ["North"]]}, slug="south")
    assert Site.objects.get(slug="south").keep_length == Decimal(9144), "30 ft"


def test_refusals_and_empty_tables_speak_metres_there():
    load(SITE)
    problems = told(load({"cables": [[*CABLES[0], "buy_lengths"], ["C", "300 mm2", "Cu", "x", None, "far"]]}))
    assert problems == [
        "cables, row 2, column diameter: found x, expected a length such as 3.2 m, 450 mm, 12.5 or 12 ft 6 in",
        "cables, row 2, column buy_lengths: found far, expected lengths separated by commas, such as 150 m, 300 m",
    ]
    book = load_workbook(io.BytesIO(empty_workbook(tables(), "m")))
    words = "\n".join(cell.comment.text for sheet in book if sheet.sheet_state == "visible" for cell in sheet[1])
    assert [word for word in ("example: 300 mm2", "empty: 10 m", "empty: 150 mm") if word not in words] == []
    assert [word for word in ("example: 12 ft", "empty: 30 ft", "kcmil\n", "lb/kft") if word in words] == []

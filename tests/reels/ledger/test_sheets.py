from decimal import Decimal

import pytest

from reels.ledger.queries import reel_entries
from reels.models import Cut, Reel
from takeoff.models import Place
from takeoff.sheets.files.sources import Sheet
from takeoff.sheets.services import load_sheets
from takeoff.units.exact import to_ticks
from tests.factories.takeoff import CableFactory, RunFactory, SiteFactory
from tests.reels.makers import FT, make_conductors

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    site = SiteFactory(slug="job", whole_reels=True)
    make_conductors(RunFactory(site=site, name="BUS-1", measured=True), 200, "A1", "A2")
    return site


REELS = (
    "reel,cable,length,outer_mark,inner_mark",
    "R1,500-CU,2490 ft,1250,3740",
    "R2,500-CU,1000 ft,1000,0",
    "R3,500-CU,500 ft,,",
)
CUTS = (
    "id,reel,at,run,conductor,purpose,outer_mark,inner_mark,length,by",
    "C-1,R1,2026-03-02,BUS-1,A1,,1250,1451,,J",
    "C-2,R2,2026-03-02,BUS-1,A2,conductor,1000,798,200 ft,J",
    "C-3,R3,2026-03-03 14:30,,,trim,,,2 ft,",
)


def load(**tables):
    sheets = []
    for name, lines in tables.items():
        header, *rows = (tuple(cell or None for cell in line.split(",")) for line in lines)
        sheets.append(Sheet(name, header, [(number, row) for number, row in enumerate(rows, 2)]))
    return load_sheets(sheets=sheets, slug="job")


def counts(result, table):
    found = outcome_of(result, table).counts
    return {name: found[name] for name in ("new", "changed", "unchanged")}


def outcome_of(result, table):
    return next(outcome for outcome in result.tables if outcome.name == table)


def said(result):
    return [str(problem) for problem in result.problems]


def test_reels_and_cuts_are_read(site):
    result = load(reels=REELS, cuts=CUTS)
    assert said(result) == []
    assert counts(result, "reels") == {"new": 3, "changed": 0, "unchanged": 0}
    assert counts(result, "cuts") == {"new": 3, "changed": 0, "unchanged": 0}
    first, second, third = Cut.objects.of(site).order_by("event_id")
    assert (first.length, first.taped, str(first.conductor), first.by) == (201 * FT, False, "BUS-1 A1", "J")
    assert (second.length, second.taped, second.outer_mark, second.inner_mark) == (200 * FT, True, 1000, 798)
    assert (third.purpose, third.outer_mark, third.length) == ("trim", None, 2 * FT)


def test_reading_twice_changes_nothing(site):
    load(reels=REELS, cuts=CUTS)
    result = load(reels=REELS, cuts=CUTS)
    assert said(result) == []
    assert counts(result, "reels") == {"new": 0, "changed": 0, "unchanged": 3}
    assert counts(result, "cuts") == {"new": 0, "changed": 0, "unchanged": 3}
    assert Cut.objects.of(site).count() == 3


def test_the_same_id_with_other_content_names_the_correction(site):
    load(reels=REELS, cuts=CUTS)
    result = load(cuts=(CUTS[0], "C-1,R1,2026-03-02,BUS-1,A1,,1250,1452,,J"))
    [problem] = said(result)
    assert "cuts, row 2, column id" in problem
    assert "take the cut back and report it under a new id" in problem


def test_a_reel_has_its_bin_parent_weights_and_sizes(site):
    result = load(
        reels=(
            "reel,cable,length,bin,tare,gross,flange (in),drum (in),traverse (in),parent,state,shipment,mark_unit",
            "R1-A,500-CU,84 ft,YARD,,,,,,R1,,,",
            "R1,500-CU,1000 ft,yard,250 lb,1810 lb,48,24,30,,on the way,SHIP-1,m",
        )
    )
    assert said(result) == []
    remnant, reel = Reel.objects.of(site).order_by("-tag")
    assert (remnant.parent, remnant.state, remnant.mark_unit) == (reel, "on site", "ft")
    assert (reel.tare, reel.gross, reel.weight_unit, reel.delivery) == (250, 1810, "lb", "SHIP-1")
    assert (reel.flange, reel.drum, reel.traverse) == (4 * FT, 2 * FT, Decimal("2.5") * FT)
    assert (reel.state, reel.mark_unit) == ("on the way", "m")
    assert Place.objects.of(site).get(kind="bin").name == "YARD"
    assert remnant.place == reel.place


def test_a_sheet_without_a_column_leaves_it_as_it_is(site):
    load(reels=("reel,cable,length,state,bin", "R1,500-CU,1000 ft,held,YARD"))
    result = load(reels=("reel,cable,length", "R1,500-CU,990 ft"))
    assert counts(result, "reels")["changed"] == 1
    reel = Reel.objects.of(site).get()
    assert (reel.length, reel.state, reel.place.name) == (990 * FT, "held", "YARD")


@pytest.mark.parametrize(
    ("header", "row", "column"),
    [
        ("outer_mark", "1250", "inner_mark"),
        ("outer_mark,inner_mark", "5,5", "inner_mark"),
        ("tare,gross", "900 lb,800 lb", "tare"),
        ("tare,gross", "90 kg,800 lb", "tare"),
        ("drum,flange", "48 in,48 in", "drum"),
        ("flange", "48", "flange"),
        ("parent", "R9", "parent"),
        ("parent", "R1", "parent"),
        ("state", "gone", "state"),
    ],
)
def test_a_reel_that_cannot_be_is_refused_at_its_column(site, header, row, column):
    result = load(reels=(f"reel,cable,length,{header}", f"R1,500-CU,1000 ft,{row}"))
    [problem] = said(result)
    assert f"reels, row 2, column {column}" in problem
    assert not Reel.objects.of(site).exists()


def test_marks_that_no_longer_hold_a_cut_are_refused(site):
    load(reels=REELS, cuts=CUTS)
    result = load(reels=("reel,cable,length,outer_mark,inner_mark", "R1,500-CU,2490 ft,1300,3790"))
    [problem] = said(result)
    assert "marks that its cuts lie on" in problem


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("X,R1,2026-03-02,BUS-1,A9,,1250,1451,,", "conductor"),
        ("X,R1,2026-03-02,,A1,,1250,1451,,", "run"),
        ("X,R1,2026-03-02,BUS-1,A1,trim,1250,1451,,", "run"),
        ("X,R1,2026-03-02,BUS-1,A1,,1200,1451,,", "outer_mark"),
        ("X,R1,2026-03-02,BUS-1,A1,,1250,,,", "inner_mark"),
        ("X,R1,2026-03-02,BUS-1,A1,,,,,", "length"),
        ("X,R3,2026-03-02,BUS-1,A1,,10,20,,", "outer_mark"),
        ("X,R3,2026-03-02,BUS-1,A1,,,,501 ft,", "length"),
        ("X,R9,2026-03-02,BUS-1,A1,,1250,1451,,", "reel"),
        ("X,OTHER,2026-03-02,BUS-1,A1,,,,200 ft,", "reel"),
    ],
)
def test_a_cut_that_cannot_be_is_refused_at_its_column(site, row, column):
    CableFactory(site=site, code="350-CU", size="350")
    result = load(reels=(*REELS, "OTHER,350-CU,500 ft,,"), cuts=(CUTS[0], row))
    [problem] = said(result)
    assert f"cuts, row 2, column {column}" in problem
    assert not Cut.objects.of(site).exists()


def test_what_is_odd_but_happened_is_kept_with_a_caution(site):
    result = load(
        reels=REELS,
        cuts=(
            CUTS[0],
            "C-1,R1,2025-03-02,BUS-1,A1,,1250,1451,,",
            "C-2,R1,2025-03-02,BUS-1,A2,,1400,1590,,",
        ),
    )
    assert result.loaded
    assert [caution.text for caution in result.cautions] == [
        "Marks 1400 to 1451 are claimed by cut C-2 too: two records overlap.",
        "Marks 1400 to 1451 are claimed by cut C-1 too: two records overlap.",
        "It is 10' 0\" shorter than BUS-1 A2 needs and does not serve it.",
    ]


def test_a_length_far_from_the_marks_is_a_caution(site):
    result = load(reels=("reel,cable,length,outer_mark,inner_mark", "R1,500-CU,1000 ft,0,1100"))
    assert [caution.text for caution in result.cautions] == ["it differs from the printed marks by more than 5 percent"]


def test_many_rows_take_a_fixed_number_of_queries(site, django_assert_max_num_queries):
    reels = [f"R{n},500-CU,1000 ft,0,1000" for n in range(100)]
    cuts = [f"C-{n},R{n % 100},2026-03-02,,,trim,{n // 100},{n // 100 + 1},," for n in range(500)]
    with django_assert_max_num_queries(49):
        assert load(reels=(REELS[0], *reels), cuts=(CUTS[0], *cuts)).loaded


@pytest.mark.parametrize(
    "rows",
    [
        ("R1,500-CU,9 ft,R2", "R2,500-CU,9 ft,R1"),
        ("R1,500-CU,9 ft,R3", "R2,500-CU,9 ft,R1", "R3,500-CU,9 ft,R2", "R4,500-CU,9 ft,R3"),
    ],
    ids=["two", "three, and one off them"],
)
def test_reels_that_came_off_each_other_in_a_circle_are_refused(site, rows):
    load(reels=("reel,cable,length,parent", "R1,500-CU,9 ft,"))
    problems = load(reels=("reel,cable,length,parent", *rows)).problems
    assert len(problems) == min(3, len(rows))
    assert {problem.column for problem in problems} == {"parent"}
    assert "a reel that did not come off R1 itself" in str(problems[0])
    assert Reel.objects.get().parent is None


def test_a_circle_is_refused_where_the_books_hold_half_of_it(site):
    load(reels=("reel,cable,length,parent", "R1,500-CU,9 ft,", "R2,500-CU,9 ft,R1"))
    assert len(load(reels=("reel,cable,length,parent", "R1,500-CU,9 ft,R2")).problems) == 1


def test_a_remnant_by_sheet_beside_its_reel_is_counted_once(site):
    sheet = (
        "reel,cable,length,outer_mark,inner_mark,parent",
        "R1,500-CU,1000 ft,0,1000,",
        "P,500-CU,740 ft,260,1000,R1",
    )
    for _ in range(2):
        load(reels=sheet)
        assert sum(entry.left for entry in reel_entries(site)) == to_ticks(740 * FT)

"""What a rule book is refused for, cell by cell."""

import dataclasses
from pathlib import Path

import pytest

from takeoff.rules.engine import rows as word
from takeoff.rules.engine.book import NotPublishableError, compile_book
from takeoff.rules.engine.book_checks import check_book
from takeoff.rules.engine.rows import COUNTED_ON, MEASURES, STAGES, RuleItem
from takeoff.rules.models import Rule
from takeoff.runs import models as run_models
from takeoff.sites.models import StageName
from tests.takeoff.facts import FT, IN, ITEMS, ONE, default_items, default_rows, row


def problems(*rows, items=None):
    return [(problem.field, problem.found, problem.refused) for problem in check_book(rows, ITEMS | (items or {}))]


def test_words_are_those_of_the_models():
    assert tuple(StageName.values) == STAGES
    assert tuple(run_models.Section.Kind.values) == word.SECTION_KINDS
    assert tuple(run_models.Section.Lie.values) == word.LIES
    assert tuple(run_models.Run.Location.values) == word.LOCATIONS
    assert ("none", *word.SEALS) == tuple(run_models.RunEnd.Seal.values)
    assert tuple(run_models.Crossing.Kind.values) == word.CROSSING_KINDS
    kept = {field.name for field in Rule._meta.get_fields()} - {"id", "book", "seq"}
    assert {field.name for field in dataclasses.fields(word.RuleRow)} == kept


@pytest.mark.parametrize("name", ["feet", "metric"])
def test_default_books_have_no_problem(name):
    assert check_book(default_rows(name), default_items(name)) == []


@pytest.mark.parametrize(
    ("rule", "field", "found"),
    [
        (row(item="nothing"), "item", "nothing"),
        (row(stage="painting"), "stage", "painting"),
        (row("bolt"), "counted_on", "bolt"),
        (row(measure="dozen"), "measure", "dozen"),
        (row(amount=0), "amount", "0"),
        (row(amount=-ONE), "amount", "-1"),
        (row(source=" "), "source", ""),
        (row(name=""), "rule", ""),
        (row(allowance=-500), "allowance", "-0.05"),
        (row(rounding="floor"), "rounding", "floor"),
        (row("section", "spaced"), "spacing", ""),
        (row("section", "spaced", spacing=0), "spacing", '0"'),
        (row("section", "spaced", spacing=FT, end_offset=-IN), "end_offset", '-1"'),
        (row("section", "spaced", spacing=FT, sides=0), "sides", "0"),
        (row("conductor", "spaced", spacing=FT), "counted_on", "conductor"),
        (row("conductor", "cut pieces", item="stick"), "piece", ""),
        (row("conductor", "cut pieces", piece=9 * IN), "item", "part"),
        (row("conductor", "cut pieces", item="stick", piece=49 * IN), "piece", "4' 1\""),
        (row("seal plate edge", "bead", item="cartridge"), "bead", ""),
        (row("seal plate edge", "bead", bead=IN), "item", "part"),
        (row("conductor", "bead", item="cartridge", bead=IN), "counted_on", "conductor"),
        (row("crossing", "fill"), "item", "part"),
        (row("seal", "fill", item="cartridge"), "counted_on", "seal"),
        (row("conductor", "length", FT), "item", "part"),
        (row(spacing=FT), "spacing", "1' 0\""),
        (row(bead=IN), "bead", '1"'),
        (row(sides=2), "sides", "2"),
        (row(tiers="5"), "tiers", "5"),
        (row(tiers="two"), "tiers", "two"),
        (row(voltage_class="HV"), "voltage_class", "hv"),
        (row(location="indoor, roof"), "location", "roof"),
        (row("section", section_kind="bend"), "section_kind", "bend"),
        (row("section", lie="flat"), "lie", "flat"),
        (row("seal", seal="foam"), "seal", "foam"),
        (row("seal", seal="none"), "seal", "none"),
        (row("conductor end", lug_holes="0"), "lug_holes", "0"),
        (row("crossing", crossing_kind="roof"), "crossing_kind", "roof"),
        (row("run", section_kind="straight"), "section_kind", "straight"),
        (row("joint", lie="vertical"), "lie", "vertical"),
        (row("end", seal="caulked"), "seal", "caulked"),
        (row("conductor", lug_holes="2"), "lug_holes", "2"),
        (row("seal", fire_rated=False), "fire_rated", "no"),
        (row("run", crossing_kind="wall"), "crossing_kind", "wall"),
        (row("straight", section_kind="tee"), "section_kind", "tee"),
        (row("fitting", section_kind="straight"), "section_kind", "straight"),
        (row(ground_min="thick"), "ground_min", "thick"),
        (row(cable_max="240"), "cable_max", "240"),  # mm² or kcmil?
        (row(ground_min="500", ground_max="4/0"), "ground_max", "4/0"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_bad_cell_is_refused_and_named(rule, field, found):
    assert problems(rule) == [(field, found, True)]


def test_all_problems_come_at_once_with_their_rows():
    rows = [row(name="one"), row("section", "spaced", name="two", item="x", stage="y"), row(name="two")]
    found = [(problem.row, problem.field) for problem in check_book(rows, ITEMS)]
    assert found == [(1, "item"), (1, "stage"), (1, "spacing"), (2, "rule")]


def test_an_item_is_rounded_in_one_way():
    assert problems(row(name="one"), row(name="two", rounding="site")) == [("rounding", "site", True)]


def test_neutral_values_of_unused_columns_pass():
    assert problems(row(sides=1, end_offset=0)) == []


def test_a_length_needs_a_unit_of_length_or_a_roll():
    items = {"rope": RuleItem("rope", "ft"), "roll": RuleItem("roll", "roll", stock_length=66 * FT)}
    assert problems(row("conductor", "length", FT, item="rope"), items=items) == []
    assert problems(row("conductor", "length", FT, item="roll"), items=items) == []


def banded(low: str, high: str, **rest):
    return row("straight", name=f"{low} {high} {rest}", family="clamp", ground_min=low, ground_max=high, **rest)


def test_bands_that_touch_or_leave_room_are_fine():
    assert problems(banded("", "4/0"), banded("4/0", "350"), banded("500", "")) == []


def test_bands_that_overlap_are_pointed_out_but_not_refused():
    assert problems(banded("", "250"), banded("4/0", "350")) == [("ground_min", "4/0 to 350", False)]
    assert problems(banded("250", ""), banded("", "4/0"), banded("", "300")) == [("ground_min", "to 300", False)] * 2


def test_bands_of_rows_that_never_apply_together_may_overlap():
    assert problems(banded("", "250", tiers="2"), banded("4/0", "350", tiers="3")) == []


def test_a_book_with_problems_is_not_compiled():
    with pytest.raises(NotPublishableError, match="rule run each, item: found nothing at all, expected the code"):
        compile_book([row(item="nothing at all")], ITEMS)


def test_every_count_measure_and_column_is_on_the_planners_page():
    page = (Path(word.__file__).parents[3] / "docs" / "rules.md").read_text(encoding="utf-8")
    columns = [field.name for field in dataclasses.fields(word.RuleRow)][1:]
    assert [name for name in (*COUNTED_ON, *MEASURES, *columns) if f"`{name}`" not in page] == []

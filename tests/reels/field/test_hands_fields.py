"""What hands write at a reel, and how it is read."""

import pytest
from django.forms import ValidationError

from reels.field.hands_fields import MarkReadField, TapedField
from reels.ledger.marks.printed import ReelMarks
from reels.ledger.marks.reading import CENTIMETRES, INCHES, TENTHS, Hands
from takeoff.units.country import habit_of
from takeoff.units.exact import SCALE
from takeoff.units.lengths import INCH, parse_length

CLIMBING = ReelMarks(1, 1250 * SCALE, 2250 * SCALE)
FALLING = ReelMarks(1, 3740 * SCALE, 2740 * SCALE)
METRES = ReelMarks(1, 412 * SCALE, 717 * SCALE, "m")


def mark_field(marks=CLIMBING, marks_as=INCHES, country=""):
    return MarkReadField(marks=marks, hands=Hands(INCH, marks_as), habit=habit_of(country), required=False)


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        (["187", "6"], "187 ft 6 in"),
        (["187", ""], "187 ft"),
        (["", "12.5"], "12.5 in"),
        (["187", "6 1/2"], "187 ft 6 1/2 in"),
        (["0187", "3/4"], "0187 ft 3/4 in"),
        (["", ""], ""),
    ],
)
def test_feet_and_inches_stand_in_two_fields(typed, read):
    assert TapedField(unit="ft", required=False).clean(typed) == read


def test_what_is_read_is_the_length_that_was_meant():
    assert parse_length(TapedField(unit="ft").clean(["187", "6 1/2"]), bare=None) == (187 * 12 + 6) * INCH + INCH // 2


@pytest.mark.parametrize(
    "typed",
    [
        ["187/6", ""],
        ["187.5", ""],
        ["187,5", ""],
        ["-2", ""],
        ["1e9", ""],
        ["1" * 10_000, ""],
        ["187", "12"],
        ["1", "x"],
    ],
)
def test_no_length_is_guessed_at(typed):
    with pytest.raises(ValidationError):
        TapedField(unit="ft").clean(typed)


def test_metres_stand_in_one_field():
    assert TapedField(unit="m").clean(["57.15"]) == "57.15 m"
    with pytest.raises(ValidationError):
        TapedField(unit="m").clean(["57.15555"])


@pytest.mark.parametrize(
    ("marks", "marks_as", "typed", "read"),
    [
        (CLIMBING, INCHES, ["1627", "10"], "1627.8333"),
        (FALLING, INCHES, ["3552", "10"], "3551.1667"),
        (CLIMBING, INCHES, ["1627.8", ""], "1627.8"),
        (CLIMBING, TENTHS, ["1438.9"], "1438.9"),
        (METRES, CENTIMETRES, ["469", "55"], "469.55"),
    ],
)
def test_a_mark_is_the_printed_one_and_what_is_past_it_toward_the_core(marks, marks_as, typed, read):
    assert mark_field(marks, marks_as).clean(typed) == read


def test_a_mark_is_written_as_the_country_writes_numbers():
    assert mark_field(country="NO").clean(["1627", "10"]) == "1627,8333"


@pytest.mark.parametrize(
    "typed", [["", "10"], ["1627.8", "3"], ["1627", "12"], ["1627.12345", ""], ["9" * 10_000, ""], ["-5", ""]]
)
def test_no_mark_is_guessed_at(typed):
    with pytest.raises(ValidationError):
        mark_field().clean(typed)


def test_each_field_says_its_unit_and_nothing_is_filled_in():
    html = TapedField(unit="ft").widget.render("length", None, {"id": "id_length"})
    assert html.count("<input") == 2
    assert "<span>ft</span>" in html
    assert "<span>in</span>" in html
    assert "value=" not in html

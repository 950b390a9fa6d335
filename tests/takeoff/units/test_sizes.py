"""Conductor sizes on one scale."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from takeoff.units.sizes import EXPECTED, SizeError, parse_size, size_for, told_size, trade_sizes


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("1/0", "53.5 mm2"),
        ("1/0", "105.6 kcmil"),
        ("1/0", "0 AWG"),
        ("0000", "4/0"),
        ("4/0 awg", "107.2 mm²"),
        ("#2", "2 AWG"),
        ("500", "500 MCM"),
        ("500", "253 sq mm"),
        ("350 kcmil", "177 mm^2"),
        ("1250", "633 mm2"),
    ],
)
def test_one_size_has_many_names(text, same):
    assert parse_size(text) == parse_size(same)


def test_sizes_order_by_cross_section():
    names = ["6", "16 mm2", "4", "3", "2", "1", "50 mm2", "1/0", "2/0", "3/0", "95 mm2", "4/0", "120 mm2", "250"]
    names += ["150 mm2", "300", "350", "185 mm2", "240 mm2", "500", "300 mm2", "600", "1000", "1250"]
    sizes = [parse_size(name) for name in names]
    assert sizes == sorted(sizes)
    assert len(set(sizes)) == len(sizes)


@pytest.mark.parametrize(
    "text", ["240", "50", "95", "5/0", "7 AWG", "0 mm2", "0.0 mm2", "0.00 kcmil", "", "big", "4/0/0", "-2", "500 mm"]
)
def test_what_names_no_size_or_two_is_refused(text):
    with pytest.raises(SizeError) as refused:
        parse_size(text)
    assert refused.value.found == text


def test_nothing_is_no_size_whatever_its_unit():
    with pytest.raises(SizeError) as refused:
        parse_size("0.0 mm2")
    assert refused.value.expected == EXPECTED


def test_a_bare_number_that_could_be_metric_asks_for_its_unit():
    with pytest.raises(SizeError, match="expected a size with its unit: 240 kcmil or 240 mm2"):
        parse_size("240")


@pytest.mark.parametrize(("text", "name"), [("4/0 AWG", "4/0"), ("240mm²", "240 mm2"), ("550 kcmil", "550 kcmil")])
def test_a_size_keeps_the_name_it_was_given(text, name):
    assert parse_size(text).name == name
    assert parse_size(name) == parse_size(text)


def test_areas_are_exact():
    assert parse_size("500").area_mm2 == Fraction(500) * Fraction(5_067_075, 10**7)


@given(st.sampled_from(trade_sizes()))
def test_every_trade_size_reads_back_by_its_name(size):
    assert parse_size(size.name) == size


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("500", "500 kcmil"),
        ("313 kcmil", "313 kcmil"),
        ("4/0", "4/0 AWG"),
        ("2", "2 AWG"),
        ("150 mm2", "150 mm²"),
        ("53.5 mm2", "53.5 mm²"),
        ("as the drawing says", "as the drawing says"),
    ],
)
def test_a_size_is_told_with_the_unit_of_its_own_kind(text, told):
    assert told_size(text) == told


@pytest.mark.parametrize(
    ("text", "unit", "told"),
    [
        ("500", "ft", "500 kcmil"),
        ("500", "m", "500 kcmil, 253 mm²"),
        ("1/0", "m", "1/0 AWG, 53.5 mm²"),
        ("300 mm2", "m", "300 mm²"),
    ],
)
def test_on_a_site_in_metres_a_size_is_told_with_its_cross_section(text, unit, told):
    assert size_for(text, unit) == told

"""What people type at a site is read as its country writes it."""

from decimal import Decimal

import pytest
from django import forms

from takeoff.models import Site
from takeoff.sites.forms import LengthInput, NumberInput, at_site


class Asked(forms.Form):
    quantity = NumberInput(min_value=0, decimal_places=4, required=False)
    length = LengthInput(required=False)

    def cleaned(self, name):
        assert self.is_valid()
        return self.cleaned_data[name]


def asked(country, unit="m", initial=None, **typed):
    form = Asked(typed or None, initial=initial)
    at_site(form, Site(country=country, unit=unit))
    return form


@pytest.mark.parametrize(
    ("country", "typed", "quantity"),
    [
        ("US", "1,234.5", "1234.5"),
        ("US", "1234.5", "1234.5"),
        ("DE", "1.234,5", "1234.5"),
        ("DE", "1.234", "1234"),
        ("NO", "1\u00a0234,5", "1234.5"),
        ("NO", " 1 234 ", "1234"),
        ("IN", "12,34,567", "1234567"),
        ("CH", "1'234.5", "1234.5"),
        ("", "1234.5", "1234.5"),
    ],
)
def test_a_number_is_read_as_the_country_writes_it(country, typed, quantity):
    assert asked(country, quantity=typed).cleaned("quantity") == Decimal(quantity)


@pytest.mark.parametrize(
    ("country", "typed", "said"),
    [
        ("", "1,234", "Write 1234 or 1.234, without a comma: both can be meant."),
        ("NO", "1.234,5", "Write a number with a comma before decimals (the site's country is Norway)."),
        ("US", "many", "Enter a number."),
        ("US", "-1", "Ensure this value is greater than or equal to 0."),
    ],
)
def test_a_number_that_is_written_otherwise_is_refused_by_name(country, typed, said):
    assert asked(country, quantity=typed).errors["quantity"] == [said]


@pytest.mark.parametrize(
    ("country", "unit", "typed", "millimetres"),
    [
        ("US", "ft", "1,250' 6\"", "381152.4"),
        ("NO", "m", "3,2", "3200"),
        ("NO", "m", "1 250,5 m", "1250500"),
        ("DE", "m", "1.250,5 m", "1250500"),
        ("CH", "m", "1\u202f250 m", "1250000"),
        ("", "ft", "1\u202f250 ft", "381000"),
    ],
)
def test_a_length_is_read_as_the_country_writes_it(country, unit, typed, millimetres):
    assert asked(country, unit, length=typed).cleaned("length") == Decimal(millimetres)


def test_a_length_is_in_the_unit_of_the_site_and_so_is_what_is_said_of_it():
    assert asked("", "m", length="3.2").cleaned("length") == Decimal(3200)
    assert asked("", "ft", length=" 1 ").cleaned("length") == Decimal("304.8")
    said = "This is no length: far. Write a length such as 3.2 m, 450 mm, 12.5 or 12 ft 6 in."
    assert asked("", "m", length="far").errors["length"] == [said]


def test_a_length_that_can_be_two_is_refused():
    assert asked("DE", length="3.048 m").errors["length"] == ["Write either 3048 or 3,048: both can be meant."]


@pytest.mark.parametrize(("country", "shown"), [("DE", "1234,5"), ("US", "1234.5"), ("IN", "1234.5"), ("", "1234.5")])
def test_what_stands_in_a_field_before_has_no_groups_and_reads_back(country, shown):
    form = asked(country, initial={"quantity": Decimal("1234.5000")})
    assert f'value="{shown}"' in str(form["quantity"])
    assert asked(country, quantity=shown).is_valid()
    assert asked(country, quantity="as typed")["quantity"].value() == "as typed"

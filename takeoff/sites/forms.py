"""Fields for what people type at a site: numbers and lengths as its country writes them, as sheets are read."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from takeoff.sites.models import Site
from takeoff.units.country import CountryError, habit_of
from takeoff.units.exact import from_ticks
from takeoff.units.lengths import EXPECTED, EXPECTED_ON, LengthError, parse_length
from takeoff.units.shown import typed


class NumberInput(forms.DecimalField):
    """A number, with groups or without; what stands there before is written without."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
    site: Site | None = None

    def to_python(self, value: Any) -> Any:
        """Return the number as a Decimal."""
        return super().to_python(_plain(value, self.site))

    def prepare_value(self, value: Any) -> Any:
        """Return what stands in the field."""
        return typed(value, _country(self.site)) if isinstance(value, Decimal) else value


class LengthInput(forms.Field):
    """A length, in the site's unit where no other is named; cleaned to millimetres."""

    widget = forms.TextInput(attrs={"maxlength": 40, "autocomplete": "off"})
    site: Site | None = None

    def to_python(self, value: Any) -> Decimal | None:
        """Return the length as a Decimal of millimetres."""
        text = "" if value is None else str(value).strip()
        if not text:
            return None
        try:
            return from_ticks(
                parse_length(_plain(text, self.site, length=True), bare=self.site.unit if self.site else None)
            )
        except LengthError as error:
            expected = EXPECTED_ON[self.site.unit] if self.site and error.expected == EXPECTED else error.expected
            raise forms.ValidationError(f"This is no length: {text}. Write {expected}.") from error


def at_site(form: forms.Form, site: Site) -> None:
    """Let the fields of a form read what is typed as the site writes it."""
    for field in form.fields.values():
        if isinstance(field, NumberInput | LengthInput):
            field.site = site


def _country(site: Site | None) -> str:
    return site.country if site else ""


def _plain(value: Any, site: Site | None, *, length: bool = False) -> Any:
    """Return what is typed with its numbers written plainly."""
    if not isinstance(value, str):
        return value
    try:
        return habit_of(_country(site)).number(value.strip(), length=length)
    except CountryError as error:
        raise forms.ValidationError(f"Write {error.expected}.") from error

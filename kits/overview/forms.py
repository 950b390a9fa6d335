"""What people report and set on the page of a run."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from takeoff.sites.models import Site, StageName
from takeoff.units.exact import from_ticks
from takeoff.units.fields import ExactField
from takeoff.units.lengths import LengthError, parse_length


class LengthInput(forms.Field):
    """A length as people write it, in the site's unit where no other is named; cleaned to millimetres."""

    widget = forms.TextInput(attrs={"maxlength": 40, "autocomplete": "off"})

    def __init__(self, *, site: Site | None = None, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.site = site

    def to_python(self, value: Any) -> Decimal | None:
        """Return the length as a Decimal of millimetres."""
        text = "" if value is None else str(value).strip()
        if not text:
            return None
        try:
            return from_ticks(parse_length(text, bare=self.site.unit if self.site else None))
        except LengthError as error:
            raise forms.ValidationError(f"This is no length: {text}. Write {error.expected}.") from error


class OverrideForm(forms.Form):
    """A quantity from the drawing package, with the reason."""

    quantity = forms.DecimalField(min_value=0, decimal_places=4, label="Quantity by the drawing package")
    reason = forms.CharField(max_length=300, label="Reason", help_text="Drawing, revision and note; others read it.")

    def clean_quantity(self) -> Decimal:
        """Refuse what the column cannot hold."""
        return ExactField().to_python(self.cleaned_data["quantity"]) or Decimal(0)


class AsBuiltForm(forms.Form):
    """The centre line of a run as measured."""

    length = LengthInput(label="Centre line as built", help_text="Measured along the centre line, end to end.")
    note = forms.CharField(max_length=200, required=False, label="Note")

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["length"].site = site  # type: ignore[attr-defined]  # a LengthInput

    def clean_length(self) -> Decimal:
        """Refuse a length of nothing."""
        length: Decimal = self.cleaned_data["length"]
        if length <= 0:
            raise forms.ValidationError("A measured length is above 0.")
        return length


class StageForm(forms.Form):
    """When a stage is planned, and whether it is done."""

    stage = forms.ChoiceField(choices=StageName, widget=forms.HiddenInput)
    planned = forms.DateField(required=False, widget=forms.DateInput(attrs={"type": "date"}), label="Planned for")
    done = forms.DateField(required=False, widget=forms.DateInput(attrs={"type": "date"}), label="Done on")

"""What people report and set on the page of a run."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from takeoff.catalogue.models import Item
from takeoff.database.fields import ExactField
from takeoff.runs.geometry import as_built
from takeoff.runs.geometry.facts import RunFacts
from takeoff.sites.forms import LengthInput, NumberInput, at_site
from takeoff.sites.models import Site, StageName
from takeoff.units.exact import to_ticks
from takeoff.units.shown import near


class OverrideForm(forms.Form):
    """A quantity from the drawing package, with the reason."""

    quantity = NumberInput(min_value=0, decimal_places=4, label="Quantity by the drawing package")
    reason = forms.CharField(max_length=300, label="Reason", help_text="Drawing, revision and note; others read it.")

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        at_site(self, site)

    def clean_quantity(self) -> Decimal:
        """Refuse what the column cannot hold."""
        return ExactField().to_python(self.cleaned_data["quantity"]) or Decimal(0)


class AsBuiltForm(forms.Form):
    """
    The centre line of a run, or of one of its sections, as measured.

    A length that no run can have is refused; one far off the drawn length is kept once it is said to be meant.
    """

    section = forms.TypedChoiceField(
        required=False,
        coerce=int,
        empty_value=None,
        label="What was measured",
        help_text="What was measured last counts: a section measured after the whole run replaces the whole.",
    )
    length = LengthInput(label="Centre line as built", help_text="Measured along the centre line, end to end.")
    note = forms.CharField(max_length=200, required=False, label="Note")

    def __init__(self, *args: Any, site: Site, facts: RunFacts, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site, self.facts = site, facts
        at_site(self, site)
        sections = [
            (one.seq, f"Section {one.seq}, {one.kind}, drawn {self._shown(one.length)}") for one in facts.sections
        ]
        choices = [("", f"The whole run, drawn {self._shown(facts.drawn_line)}"), *sections]
        self.fields["section"].choices = choices  # type: ignore[attr-defined]  # a ChoiceField

    def clean_length(self) -> Decimal:
        """Refuse a length of nothing."""
        length: Decimal = self.cleaned_data["length"]
        if length <= 0:
            raise forms.ValidationError("A measured length is above 0.")
        return length

    def clean(self) -> None:
        """Hold the length against the drawing."""
        if "length" not in self.cleaned_data or "section" not in self.cleaned_data:
            return
        seq, length = self.cleaned_data["section"], to_ticks(self.cleaned_data["length"])
        lengths = {one.seq: one.length for one in self.facts.sections}
        drawn = self.facts.drawn_line if seq is None else lengths[seq]
        limit = as_built.most(length, drawn, unit=self.site.unit)
        if limit:
            self.add_error("length", f"A length as built is {limit}.")
        elif as_built.far_off(length, drawn):
            self._ask(seq, length, drawn)

    def _ask(self, seq: int | None, length: int, drawn: int) -> None:
        """Add the box that says that this very length is meant, and refuse the form unless it is ticked."""
        meant = f"{seq or 'run'}-{length}"
        ticked = self.data.get("meant") == meant
        self.fields["meant"] = forms.BooleanField(
            required=False,
            label=f"Drawn {self._shown(drawn)}, you wrote {self._shown(length)}: it is meant so.",
            widget=forms.CheckboxInput(attrs={"value": meant}, check_test=lambda _value: ticked),
        )
        if not ticked:
            self.add_error(
                "meant", f"More than {as_built.FAR_OFF} % off the drawing. Measured right? Then tick the box."
            )

    def _shown(self, ticks: int) -> str:
        return near(ticks, self.site.unit)


FIRST_DAY, LAST_DAY = date(2000, 1, 1), date(2100, 12, 31)


def _day(label: str) -> forms.DateField:
    """Return a field of a day on which a site can work."""
    return forms.DateField(
        required=False,
        label=label,
        widget=forms.DateInput(attrs={"type": "date"}),
        validators=[
            MinValueValidator(FIRST_DAY, "A year from 2000 to 2100."),
            MaxValueValidator(LAST_DAY, "A year from 2000 to 2100."),
        ],
        error_messages={"invalid": "This is no date. Write it as year-month-day."},
    )


class StageForm(forms.Form):
    """When a stage is planned, and whether it is done."""

    stage = forms.ChoiceField(choices=StageName, label="Stage", widget=forms.HiddenInput)
    planned = _day("Planned for")
    done = _day("Done on")

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = site.today()

    def clean_done(self) -> date | None:
        """Refuse a day that has not come yet at the site."""
        done: date | None = self.cleaned_data["done"]
        if done is not None and done > self.today:
            raise forms.ValidationError(f"Not after today, {self.today:%Y-%m-%d}.")
        return done

    @property
    def wrong(self) -> str:
        """What is wrong with it, in one line."""
        return _wrong(self)


class UseForm(forms.Form):
    """What a stage that is done with nothing handed out has used of some items."""

    PLANNED, NOTHING, FIGURE = "planned", "nothing", "figure"
    ANSWERS = ((PLANNED, "used as planned"), (NOTHING, "nothing used"), (FIGURE, "a figure"))

    stage = forms.ChoiceField(choices=StageName, label="Stage")
    item: Any = forms.ModelMultipleChoiceField(queryset=None, label="Item")
    answer = forms.ChoiceField(choices=ANSWERS, label="Answer")
    quantity = NumberInput(required=False, min_value=0, decimal_places=4, label="Used")

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        at_site(self, site)
        self.fields["item"].queryset = Item.objects.of(site)  # type: ignore[attr-defined]  # it chooses among items

    def clean(self) -> None:
        """Ask for the figure where one is told; a figure of nothing is nothing."""
        if self.cleaned_data.get("answer") == self.FIGURE and self.cleaned_data.get("quantity") is None:
            self.add_error("quantity", "Say how much was used.")

    @property
    def nothing(self) -> bool:
        """Whether nothing was used."""
        return self.cleaned_data["answer"] == self.NOTHING or self.used == 0

    @property
    def used(self) -> Decimal | None:
        """What was used of each, None where it is as planned."""
        return self.cleaned_data["quantity"] if self.cleaned_data["answer"] == self.FIGURE else None

    @property
    def wrong(self) -> str:
        """What is wrong with it, in one line."""
        return _wrong(self)


def _wrong(form: forms.Form) -> str:
    return " ".join(f"{form[name].label}: {error}" for name, errors in form.errors.items() for error in errors)

"""What a planner chooses when asking for a cut plan, and which two plans to hold beside each other."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms

from reels.planner.options import Options, usual_rates
from reels.planner.problem import Rates
from reels.plans.models import CutPlan
from takeoff.runs.models import LengthChoice
from takeoff.sites.forms import NumberInput, at_site
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks, to_ticks
from takeoff.units.shown import feet_in

MOST_FEET = 100_000
MILLIMETRES_IN_FOOT = Decimal("304.8")  # exact: NIST SP 811
MOST_SECONDS = 600
RATES, STRICT = "rates", "strict"
HERE, COMING = "here", "coming"


def _rate(label: str, help_text: str) -> NumberInput:
    return NumberInput(label=label, help_text=help_text, min_value=0, max_value=MOST_FEET, decimal_places=4)


class AskForm(forms.Form):
    """How to plan a cable. The strict order does not use the rates."""

    order = forms.ChoiceField(
        label="What matters after everything is cut",
        choices=[
            (RATES, "Trade scrap, whole reels, remnants and set-ups at the rates below"),
            (STRICT, "Strict order: least scrap, whatever it costs in whole reels opened"),
        ],
        widget=forms.RadioSelect,
    )
    rate_whole = _rate("A whole reel opened counts as", "Feet of scrap. A reel that nobody cut can still be returned.")
    rate_remnant = _rate("A remnant made counts as", "Feet of scrap. Each needs a tag and a place.")
    rate_setup = _rate("A set-up counts as", "Feet of scrap. Higher where a crane has to change reels.")
    reels = forms.ChoiceField(
        label="Reels to count on",
        choices=[(HERE, "Those on site"), (COMING, "Also those on the way")],
        widget=forms.RadioSelect,
    )
    seconds = forms.IntegerField(
        label="Seconds to look for better",
        help_text="It stops earlier once nothing better can exist.",
        min_value=1,
        max_value=MOST_SECONDS,
    )

    def options(self) -> Options:
        """Return what a valid form asks for."""
        asked = self.cleaned_data
        return Options(
            rates=Rates(
                whole=_in_feet(asked["rate_whole"], self.unit),
                remnant=_in_feet(asked["rate_remnant"], self.unit),
                setup=_in_feet(asked["rate_setup"], self.unit),
            ),
            strict=asked["order"] == STRICT,
            with_coming=asked["reels"] == COMING,
            seconds=float(asked["seconds"]),
        )

    def __init__(self, data: Any = None, *, site: Site, **options: Any) -> None:
        super().__init__(data, **options)
        at_site(self, site)
        self.unit = site.unit
        if site.unit == "m":
            for name in ("rate_whole", "rate_remnant", "rate_setup"):
                self.fields[name].help_text = self.fields[name].help_text.replace("Feet", "Metres", 1)

    @classmethod
    def like(cls, plan: CutPlan | None, *, site: Site) -> AskForm:
        """
        Return the form as a plan was asked for, or with the usual rates.

        The seconds are the usual ones unless a person chose them: a command's are not for who sits before a page.
        """
        if plan is None:
            usual = usual_rates(site.unit)
            plan = CutPlan(
                rate_whole=_kept(usual.whole), rate_remnant=_kept(usual.remnant), rate_setup=_kept(usual.setup)
            )
        seconds = plan.seconds_allowed if plan.asked_by_id else CutPlan().seconds_allowed
        return cls(
            site=site,
            initial={
                "order": STRICT if plan.strict else RATES,
                "rate_whole": feet_in(plan.rate_whole, site.unit),
                "rate_remnant": feet_in(plan.rate_remnant, site.unit),
                "rate_setup": feet_in(plan.rate_setup, site.unit),
                "reels": COMING if plan.with_coming else HERE,
                "seconds": int(seconds),
            },
        )


class CompareForm(forms.Form):
    """Two plans of a cable."""

    one = forms.TypedChoiceField(label="Plan", coerce=int)
    other = forms.TypedChoiceField(label="beside", coerce=int)

    def __init__(self, data: Any, *, plans: Sequence[CutPlan]) -> None:
        super().__init__(data)
        choices = [(plan.pk, f"Plan {plan.pk}, {plan.get_state_display().lower()}") for plan in plans]
        for name in ("one", "other"):
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)
            field.choices = choices


def _kept(rate: Fraction) -> Decimal:
    return from_ticks(to_ticks(rate))


def _in_feet(rate: Decimal, unit: str) -> Fraction:
    """Return a rate in feet, as exact as it is kept: to 1/10 000."""
    if unit == "ft":
        return Fraction(rate)
    return Fraction((rate * 1000 / MILLIMETRES_IN_FOOT).quantize(Decimal("0.0001")))


class ChoiceForm(forms.Form):
    """How a run's cable may be cut, and why."""

    way = forms.ChoiceField(choices=LengthChoice.Way)
    reason = forms.CharField(max_length=300, error_messages={"required": "Give the reason; others read it."})

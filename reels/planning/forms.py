"""What a planner chooses when asking for a cut plan, and which two plans to hold beside each other."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from django import forms

from reels.planning.models import CutPlan
from reels.planning.options import Options
from reels.planning.problem import Rates

MOST_FEET = 100_000
MOST_SECONDS = 600
RATES, STRICT = "rates", "strict"


def _rate(label: str, help_text: str) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, help_text=help_text, min_value=0, max_value=MOST_FEET, decimal_places=4, required=False
    )


class AskForm(forms.Form):
    """How to plan a cable. The rates may stay empty in the strict order, which does not use them."""

    order = forms.ChoiceField(
        label="What matters after everything is cut",
        choices=[
            (RATES, "Trade scrap, whole reels, remnants and set-ups at the rates below"),
            (STRICT, "Strict order: least scrap, whatever it costs in whole reels opened"),
        ],
        widget=forms.RadioSelect,
    )
    rate_whole = _rate("A whole reel opened counts as", "Feet of scrap. A reel that nobody cut can still go back.")
    rate_remnant = _rate("A remnant made counts as", "Feet of scrap. Each needs a tag and a place.")
    rate_setup = _rate("A set-up counts as", "Feet of scrap. Higher where a crane has to change reels.")
    with_coming = forms.BooleanField(label="Count on reels that are on the way", required=False)
    seconds = forms.IntegerField(
        label="Seconds to look for better",
        help_text="It stops earlier once nothing better can exist.",
        min_value=1,
        max_value=MOST_SECONDS,
    )

    def clean(self) -> dict[str, Any]:
        """Ask for the rates where they are used."""
        asked = super().clean() or {}
        if asked.get("order") == RATES:
            for name in ("rate_whole", "rate_remnant", "rate_setup"):
                if name in asked and asked[name] is None:
                    self.add_error(name, "Write a number of feet; 0 counts it as nothing.")
        return asked

    def options(self) -> Options:
        """Return what a valid form asks for."""
        asked, usual = self.cleaned_data, Rates()

        def rate(name: str, default: Fraction) -> Fraction:
            return default if asked[name] is None else Fraction(asked[name])

        return Options(
            rates=Rates(
                whole=rate("rate_whole", usual.whole),
                remnant=rate("rate_remnant", usual.remnant),
                setup=rate("rate_setup", usual.setup),
            ),
            strict=asked["order"] == STRICT,
            with_coming=asked["with_coming"],
            seconds=float(asked["seconds"]),
        )

    @classmethod
    def like(cls, plan: CutPlan | None) -> AskForm:
        """Return the form as a plan was asked for, or with the usual rates."""
        plan = plan or CutPlan()
        return cls(
            initial={
                "order": STRICT if plan.strict else RATES,
                "rate_whole": _plain(plan.rate_whole),
                "rate_remnant": _plain(plan.rate_remnant),
                "rate_setup": _plain(plan.rate_setup),
                "with_coming": plan.with_coming,
                "seconds": int(plan.seconds_allowed),
            }
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


def _plain(number: Any) -> str:
    return f"{number.normalize():f}"

"""Choosing a stage to hand out to."""

from __future__ import annotations

from typing import Any

from django import forms

from takeoff.database.folding import plain
from takeoff.runs.models import Run
from takeoff.sites.models import Site, StageName


class StageChoice(forms.Form):
    """A run and a stage of it."""

    run = forms.TypedChoiceField(coerce=int)
    stage = forms.ChoiceField(choices=StageName.choices)

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        runs = Run.objects.of(site).order_by("name").values_list("pk", "name")
        self.fields["run"].choices = list(runs)  # type: ignore[attr-defined]


class NameForm(forms.Form):
    """The name of a crew, or of somebody without an account."""

    name = forms.RegexField(r"^[^,]+$", max_length=60, strip=True)

    def clean_name(self) -> str:
        """Return the name on one line."""
        return plain(self.cleaned_data["name"])

"""Narrowing the list of shortages."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms

from kits.shortages.pages import ShortRow
from kits.shortages.reckon.causes import CAUSE_WORDS


class ShortageFilter(forms.Form):
    """What to show of the list; the list itself is no table of the database."""

    q = forms.CharField(required=False, label="Search")
    supplier = forms.ChoiceField(required=False, label="Supplier")
    cause = forms.ChoiceField(required=False, label="Mostly because")
    run = forms.ChoiceField(required=False, label="For run")
    everything = forms.BooleanField(required=False, label="Also what is covered")

    def __init__(self, data: Any, *, rows: Iterable[ShortRow]) -> None:
        super().__init__(data)
        rows = list(rows)
        for name, choices in (
            ("supplier", sorted({row.supplier for row in rows} - {""})),
            ("run", sorted({run for row in rows for run in row.line.runs})),
        ):
            self._choices(name, [(value, value) for value in choices])
        self._choices(
            "cause", [(cause, CAUSE_WORDS[cause]) for cause in sorted({row.line.main_cause for row in rows} - {""})]
        )

    def _choices(self, name: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", "any"), *choices]

    def narrowed(self, rows: Iterable[ShortRow]) -> list[ShortRow]:
        """Return the rows that are asked for; a choice that is none leaves nothing."""
        if not self.is_valid():
            return []
        asked = self.cleaned_data
        text = asked["q"].casefold()
        return [
            row
            for row in rows
            if (not text or text in f"{row.code} {row.line.item.description} {row.supplier} {row.runs}".casefold())
            and asked["supplier"] in {"", row.supplier}
            and asked["cause"] in {"", row.line.main_cause}
            and (not asked["run"] or asked["run"] in row.line.runs)
        ]

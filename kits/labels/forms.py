"""What to print labels for, on which paper; and what was read off one."""

from __future__ import annotations

from django import forms

from kits.labels.labelled import KINDS
from kits.labels.paper.papers import PAPERS

LONGEST = 300
PLACES = max(paper.places for paper in PAPERS.values())


class ThingsForm(forms.Form):
    """Which things."""

    kind = forms.ChoiceField(label="Labels for", choices=[(kind.letter, kind.plural) for kind in KINDS.values()])
    q = forms.CharField(label="Search", required=False, max_length=LONGEST)


class PaperForm(forms.Form):
    """On which paper, beginning where."""

    paper = forms.ChoiceField(label="Paper", choices=[(paper.name, paper.called) for paper in PAPERS.values()])
    first = forms.IntegerField(
        label="First free label on the sheet",
        min_value=1,
        max_value=PLACES,
        initial=1,
        help_text=f"1 to {PLACES}, counted from left to right, row by row. Single labels need none.",
    )


class FindForm(forms.Form):
    """What a scanner or a person typed."""

    q = forms.CharField(
        label="Address or tag",
        max_length=LONGEST,
        widget=forms.TextInput(attrs={"autofocus": True, "autocomplete": "off", "autocapitalize": "off"}),
        help_text="Scan the code, or type what stands large on the label. Then Enter.",
        error_messages={"required": "Scan a label, or type its tag."},
    )

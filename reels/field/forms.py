"""Forms of acts at a reel: each from the one declaration of its kind, lengths and marks in fields for hands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any, ClassVar

from django import forms

from reels.field.hands_fields import MarkReadField, TapedField
from reels.ledger.entries import ReelEntry
from reels.ledger.models import Cut
from reels.ledger.queries import hands_of
from reels.plans.queries import CutLine
from takeoff.records.forms import RecordForm
from takeoff.records.record_kinds import kinds
from takeoff.records.terms.errors import AskFirstError, RecordError
from takeoff.runs.models import Conductor
from takeoff.sheets.row_reading import reading_here
from takeoff.sites.models import Site
from takeoff.units.exact import from_ticks, to_ticks
from takeoff.units.lengths import LengthError, parse_length
from takeoff.units.shown import exactly

OTHER = "other"
LONGER = Fraction(105, 100)  # a tape that says more than a whole reel and the marks' allowance was read wrongly


class ActForm(RecordForm):
    """
    The cells of one record of which a page knows some already.

    known : cells that are not asked for. asked : what a person must look at before it is kept.
    """

    asked: AskFirstError | None = None
    ways_out: ClassVar[Mapping[str, str]] = {}  # by the code of a refusal that typing again does not mend

    def __init__(
        self, *args: Any, site: Site, kind: str, known: Mapping[str, str], leave_out: Sequence[str] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, kind=kinds()[kind], reading=reading_here(site), now=True, **kwargs)
        self.kind, self.known = kinds()[kind], known
        for name in {*known, *leave_out}:
            self.fields.pop(name)
        if "at" in self.fields:
            self.fields["at"].help_text = "Empty: now."
            self.fields["at"].widget = forms.DateTimeInput({"type": "datetime-local"})
        for name, names in (("by", "names"), ("bin", "bins")):
            if name in self.fields:
                self.fields[name].widget.attrs["list"] = names

    @property
    def row(self) -> Mapping[str, str]:
        """The cells that are filled or known, written plainly."""
        return {**super().row, **self.known}

    def refuse(self, error: RecordError) -> None:
        """Put at its field why nothing was kept."""
        told = " ".join(filter(None, [str(error), self.ways_out.get(error.code, "")]))
        self.add_error(error.column if error.column in self.fields else None, told)


class CutForm(ActForm):
    """
    A length off one reel: what for, by tape and by marks.

    lines : what the accepted plan cuts off it; what is cut of that already is not offered. began : the mark where the
    page said that the cable begins, which holds where nobody read another.
    """

    ways_out: ClassVar[Mapping[str, str]] = {
        "off_reel": "Read the mark again. If it is right, the tag is wrong: a planner mends the marks of the reel by "
        "the sheet of reels; then record the cut.",
        "wrong_cable": "If it was cut all the same: record it as damage, and cut the right cable.",
    }

    def __init__(self, *args: Any, entry: ReelEntry, lines: Sequence[CutLine], **kwargs: Any) -> None:
        site = entry.reel.site
        super().__init__(
            *args, site=site, kind="cuts", known={"reel": entry.reel.tag}, leave_out=("purpose",), **kwargs
        )
        self.entry = entry
        self.planned = {str(line.planned.conductor_id): line.planned.conductor for line in lines}
        hands = hands_of(site)
        wanted = [
            (str(line.planned.conductor_id), f"{line.planned.conductor}, {exactly(hands.up(line.need), site.unit)}")
            for line in lines
            if line.made is None and not line.dropped
        ]
        purposes = [(value, label) for value, label in Cut.Purpose.choices if value != Cut.Purpose.CONDUCTOR]
        offered = [*wanted, (OTHER, "another conductor, named below"), *purposes]
        self.fields["wanted"] = forms.CharField(label="What for", widget=forms.Select(choices=offered))
        self.purposes = {value for value, _ in purposes}
        self.fields["run"].help_text = "For another conductor: its run."
        length, marks = self.fields["length"], entry.marks
        self.fields["length"] = TapedField(unit=site.unit, **_as(length, "Length by tape", "Empty: not taped."))
        if marks.has_marks:
            begins = hands.told(marks.mark_at(entry.books.outermost), marks)
            for name, label, told in (
                ("inner_mark", "Mark read at the cut", "Empty: not read."),
                ("outer_mark", "Mark where it began", f"Empty: {begins}, where the books have the end."),
            ):
                field = MarkReadField(marks=marks, hands=hands, habit=self.habit, **_as(self.fields[name], label, told))
                self.fields[name] = field
            number = r"^\d{1,12}(\.\d{1,4})?$"
            self.fields["began"] = forms.RegexField(number, widget=forms.HiddenInput(), required=False)
            self.initial["began"] = _plain_mark(entry)
        else:
            for name in ("inner_mark", "outer_mark"):
                self.fields.pop(name)
        self.order_fields(["wanted", "length", "inner_mark", "outer_mark", "by", "at", "run", "conductor"])

    @property
    def conductor(self) -> Conductor | None:
        """The conductor that it is for, where there is one of that name. Only of a form without faults."""
        if self.cleaned_data["wanted"] in self.planned:
            return self.planned[self.cleaned_data["wanted"]]
        site, row = self.entry.reel.site, self.row
        names = {"run__name": row.get("run", ""), "name": row.get("conductor", "")}
        return Conductor.objects.of(site).filter(**names).select_related("run", "cable").first()

    def clean_wanted(self) -> str:
        """Return what it is for: something that this page offers or has offered."""
        wanted: str = self.cleaned_data["wanted"]
        if wanted not in {*self.planned, *self.purposes, OTHER}:
            raise forms.ValidationError("Choose one of these.")
        return wanted

    def clean(self) -> dict[str, Any]:
        """Refuse a cut that says neither tape nor mark, a conductor without a name, a tape beyond all of the reel."""
        said: dict[str, Any] = super().clean() or self.cleaned_data
        if said.get("wanted") == OTHER and not (said.get("run") and said.get("conductor")):
            self.add_error("run", "Name the run and the conductor that it is for.")
        if "length" in said and not said["length"] and not said.get("inner_mark") and "inner_mark" not in self.errors:
            self.add_error("length", "Write its length by tape, or the mark read at the cut.")
        if said.get("outer_mark") and not said.get("inner_mark") and "inner_mark" not in self.errors:
            self.add_error("inner_mark", "Write the mark read at the cut, too.")
        self._compare_with_the_reel(said.get("length", ""))
        return said

    def _compare_with_the_reel(self, length: str) -> None:
        """Refuse a length above all that was on the reel: it is asked for again."""
        if not length:
            return
        site, received = self.entry.reel.site, to_ticks(self.entry.reel.length)
        try:
            taped = parse_length(length.replace(self.habit.decimal, "."), bare=site.unit)
        except LengthError:
            return  # its column has said so
        if taped > received * LONGER:
            told, most = exactly(taped, site.unit), exactly(received, site.unit)
            self.add_error("length", f"{told} is more than all of {self.entry.reel}, {most}. Tape it again.")

    @property
    def row(self) -> Mapping[str, str]:
        """The cells of the cut: what it was for, and both its marks where one was read."""
        cells = dict(super().row)
        wanted = self.cleaned_data["wanted"]
        if wanted in self.planned:
            cells |= {"run": self.planned[wanted].run.name, "conductor": self.planned[wanted].name}
        elif wanted != OTHER:
            cells = {name: cell for name, cell in cells.items() if name not in {"run", "conductor"}}
            cells["purpose"] = wanted
        if "inner_mark" in cells and "outer_mark" not in cells:
            cells["outer_mark"] = self.cleaned_data.get("began") or _plain_mark(self.entry)
        return cells


def _as(field: forms.Field, label: str, told: str) -> dict[str, Any]:
    """Return what a field for hands takes over from the column's own."""
    return {"label": label, "help_text": told, "required": field.required, "validators": field.validators[:1]}


def _plain_mark(entry: ReelEntry) -> str:
    """Return the mark where the cable begins by the books, as a cell."""
    return f"{from_ticks(entry.marks.mark_at(entry.books.outermost)):f}"

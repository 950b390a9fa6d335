"""The form of a kind of record, made from its declaration."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django import forms

from takeoff.records.record_kinds import RecordKind
from takeoff.sheets.cells.columns import Column
from takeoff.sheets.cells.kinds import Reading
from takeoff.sheets.cells.problems import CellError

LONGEST = 500
# What a person reads where a column's own name is no word of theirs.
LABELS = {
    "at": "When",
    "came_item": "What came instead",
    "came_text": "Or what it is, in words",
    "lender": "Borrowed from",
}
HIDDEN = {"id", "seen", "instead"}  # a page's or a device's own, nothing to type


class RecordForm(forms.Form):
    """
    The cells of one record, read as a sheet's cells are, as its country writes them; `row` is what the door takes.

    now : whether what names no moment happened now.
    """

    def __init__(self, *args: Any, kind: RecordKind, reading: Reading, now: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.columns = {column.name: column for column in kind.columns}
        self.habit = reading.habit
        for name, cell in self.initial.items():  # kept plainly
            if name in self.columns and self.columns[name].kind.notation == "number":
                self.initial[name] = str(cell).replace(".", self.habit.decimal)
        for column in kind.columns:
            self.fields[column.name] = _field(column, reading)
        self.fields["at"].required = not now
        for name in HIDDEN & self.fields.keys():
            self.fields[name].widget = forms.HiddenInput()

    @property
    def row(self) -> Mapping[str, str]:
        """The cells that are filled, written plainly."""
        filled = {name: cell for name, cell in self.cleaned_data.items() if cell and name in self.columns}
        return {name: self.columns[name].kind.plainly(cell, self.habit) for name, cell in filled.items()}


class DropForm(forms.Form):
    """Why a record is dropped."""

    reason = forms.CharField(max_length=300, label="Why it never goes into the books")


def _field(column: Column, reading: Reading) -> forms.Field:
    """Return the field of a column: a choice where it takes a few words, else a text that its kind reads."""
    said: dict[str, Any] = {
        "label": LABELS.get(column.name, column.name.replace("_", " ").capitalize()),
        "help_text": column.help,
        "required": column.required,
        "validators": [_reads(column, reading)],
    }
    words = column.kind.choices
    if words:
        empty = [] if column.required else [("", column.default_help or "not said")]
        return forms.ChoiceField(choices=[*empty, *((word, word) for word in words)], **said)
    return forms.CharField(max_length=LONGEST, **said)


def _reads(column: Column, reading: Reading) -> Callable[[str], None]:
    read = column.kind.reader(reading, None)

    def check(cell: str) -> None:
        try:
            read(column.kind.plainly(cell, reading.habit))
        except CellError as error:
            raise forms.ValidationError(f"Write {error.expected}.") from error

    return check

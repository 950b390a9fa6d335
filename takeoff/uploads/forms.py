"""What a person chooses to load."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from takeoff.sheets.files.sources import MEGABYTE, MOST_BYTES


class FilesInput(forms.ClearableFileInput):
    """One or more files."""

    allow_multiple_selected = True


class FilesField(forms.FileField):
    """One workbook, or several CSVs."""

    widget = FilesInput(attrs={"accept": ".xlsx,.csv", "multiple": True})

    def clean(self, data: Any, initial: Any = None) -> list[UploadedFile]:
        """Return the files; each is held against the limits by itself."""
        files = (data or [None]) if isinstance(data, list | tuple) else [data]
        cleaned = [super(FilesField, self).clean(file, initial) for file in files]
        for file in cleaned:
            if file.size > MOST_BYTES:
                raise forms.ValidationError(
                    f"{file.name} is larger than {MOST_BYTES // MEGABYTE} MB. Load it in parts."
                )
        return cleaned


class UploadForm(forms.Form):
    """The sheets to load."""

    chosen = FilesField(
        label="Workbook or CSVs",
        help_text="One .xlsx whose sheets are named like the tables, or .csv files named so. Nothing is kept yet.",
        error_messages={"required": "Choose a file first.", "empty": "This file is empty."},
    )


class ConfirmForm(forms.Form):
    """A second look, where something unlikely was found."""

    looked = forms.BooleanField(label="I have looked at these cells; they are meant so.")

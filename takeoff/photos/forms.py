"""What comes with a photo."""

from __future__ import annotations

from django import forms
from django.core.files.uploadedfile import UploadedFile

from takeoff.photos.errors import AGAIN
from takeoff.photos.models import Photo, PhotoRemoved


class PhotoForm(forms.Form):
    """A photo, and the record that it belongs to."""

    id = forms.UUIDField(required=False, error_messages={"invalid": "The id of a photo is a UUID."})
    kind = forms.CharField(max_length=Photo._meta.get_field("kind").max_length)
    record = forms.CharField(max_length=Photo._meta.get_field("record").max_length)
    device_at = forms.DateTimeField(
        required=False, error_messages={"invalid": "device_at is a moment such as 2026-03-04T14:30:00Z."}
    )
    file = forms.FileField(
        error_messages={
            "required": "There is no picture yet. Take one, or choose one.",
            "empty": f"The file is empty. {AGAIN}",
        }
    )

    def clean_file(self) -> UploadedFile:
        """Refuse two pictures at once: one would be lost without a word."""
        if len(self.files.getlist("file")) > 1:
            raise forms.ValidationError("These are two pictures. Add one, then the other.")
        file: UploadedFile = self.cleaned_data["file"]
        return file

    @property
    def said(self) -> list[str]:
        """What is wrong; of what a person does not fill in, with its name."""
        found = [(name, str(error)) for name, errors in self.errors.items() for error in errors]
        return [f"{name}: {error}" if name in {"kind", "record"} else error for name, error in found]


class RemoveForm(forms.Form):
    """Why a photo is taken away."""

    reason = forms.CharField(
        max_length=PhotoRemoved._meta.get_field("reason").max_length,
        error_messages={"required": "Say why it is taken away."},
    )

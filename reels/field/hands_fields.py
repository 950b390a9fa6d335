"""
Fields for hands at a reel: a length in feet and inches, a mark as the printed one and what is past it.

Each gives the text of a cell, as a person at the site would write it into a sheet. `187/6` is no length here: as a
ratio it would read 31.17 ft.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from django import forms
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from reels.ledger.marks.printed import LENGTH_PER_MARK, ReelMarks
from reels.ledger.marks.reading import CENTIMETRE, INCHES, TENTHS, Hands
from takeoff.units.country import Habit
from takeoff.units.exact import SCALE, from_ticks, to_ticks
from takeoff.units.lengths import INCH

WHOLE = r"^\d{1,7}$"
DECIMAL = r"^\d{1,9}(?:[.,]\d{1,4})?$"
RULED = r"^\d{1,2}(?:[.,]\d{1,4}|(?: \d{1,2})?/\d{1,2}| \d{1,2}/\d{1,2})?$"
AS_FEET = "Whole feet in the first field, inches in the second: 187 and 6 for 187 ft 6 in."
AS_INCHES = "Inches below 12, such as 6, 6.5 or 6 1/2."
AS_MARK = "A printed mark is a number with at most 4 decimals, such as 1627 or 1627.8."
AS_PAST = "What is past the printed mark, such as 10 or 10.5."
AS_METRES = "Metres with at most 4 decimals, such as 57.15."

Validator = Callable[[str], None]


class Side(forms.MultiWidget):
    """Fields beside each other, each with its unit after it."""

    use_fieldset = True

    def __init__(self, units: tuple[str, ...]) -> None:
        self.units = units
        shown = {"inputmode": "decimal", "autocomplete": "off", "maxlength": "14"}
        super().__init__([forms.TextInput(shown) for _ in units])

    def decompress(self, value: Any) -> list[str]:
        """Return the texts of the fields; nothing is filled in that nobody read."""
        return value if isinstance(value, list) else ["" for _ in self.units]

    def render(self, name: str, value: Any, attrs: dict[str, Any] | None = None, renderer: Any = None) -> SafeString:
        """Return the fields, each within the label that names its unit."""
        texts = self.decompress(value)
        shared = {key: each for key, each in (attrs or {}).items() if key not in {"id", "autofocus"}}
        fields = []
        for number, (widget, text, unit) in enumerate(zip(self.widgets, texts, self.units, strict=True)):
            own = shared | {"id": f"{(attrs or {}).get('id', name)}_{number}"}
            if number == 0 and (attrs or {}).get("autofocus"):
                own["autofocus"] = True
            fields.append((widget.render(f"{name}_{number}", text, own, renderer), unit))
        inner = format_html_join("", '<label class="unit">{}<span>{}</span></label>', fields)
        return format_html('<span class="units">{}</span>', inner)


class HandsField(forms.MultiValueField):
    """What is common to both: its fields may stay empty, and a cell that its column reads comes of them."""

    def __init__(self, fields: tuple[forms.Field, ...], units: tuple[str, ...], **kwargs: Any) -> None:
        super().__init__(fields, widget=Side(units), require_all_fields=False, **kwargs)


def _number(pattern: str, said: str) -> forms.RegexField:
    return forms.RegexField(pattern, required=False, strip=True, error_messages={"invalid": said})


class TapedField(HandsField):
    """A length by tape: in feet and inches on a site in feet, else in metres."""

    def __init__(self, *, unit: str, **kwargs: Any) -> None:
        self.in_feet = unit == "ft"
        if self.in_feet:
            super().__init__((_number(WHOLE, AS_FEET), _number(RULED, AS_INCHES)), ("ft", "in"), **kwargs)
        else:
            super().__init__((_number(DECIMAL, AS_METRES),), ("m",), **kwargs)

    def compress(self, texts: list[str]) -> str:
        """Return the length as one text."""
        if not any(texts):
            return ""
        if not self.in_feet:
            return f"{texts[0]} m"
        feet, inches = texts
        if feet and inches and _inches(inches) >= 12:
            raise forms.ValidationError(f"{AS_INCHES} {inches} in is a foot or more.")
        return " ".join(part for part in (feet and f"{feet} ft", inches and f"{inches} in") if part)


class MarkReadField(HandsField):
    """A printed mark as it is read: the printed one and what is past it toward the core, or in decimals of its unit."""

    def __init__(self, *, marks: ReelMarks, hands: Hands, habit: Habit, **kwargs: Any) -> None:
        self.marks, self.hands, self.habit = marks, hands, habit
        printed = _number(DECIMAL, AS_MARK)
        if hands.marks_as == TENTHS:
            super().__init__((printed,), (marks.unit,), **kwargs)
        else:
            past = "in past it" if hands.marks_as == INCHES else "cm past it"
            super().__init__((printed, _number(RULED, AS_PAST)), (f"{marks.unit} printed", past), **kwargs)

    def compress(self, texts: list[str]) -> str:
        """Return the mark as one number, as the site's country writes it."""
        if not any(texts):
            return ""
        printed, past = texts[0], texts[1] if len(texts) > 1 else ""
        if not printed:
            raise forms.ValidationError("Write the printed mark that it is past.")
        if not past:
            return printed
        if not printed.isdigit():
            raise forms.ValidationError("Either a mark in decimals, or a whole printed mark and what is past it.")
        step = INCH if self.hands.marks_as == INCHES else CENTIMETRE
        ticks = round(_inches(past) * step / LENGTH_PER_MARK[self.marks.unit])
        if ticks >= SCALE:
            raise forms.ValidationError(f"{past} past it lies beyond the next printed mark.")
        inward = 1 if self.marks.mark_at(1) > self.marks.mark_at(0) else -1
        mark = from_ticks(to_ticks(int(printed)) + inward * ticks)
        return f"{mark:f}".replace(".", self.habit.decimal)


def _inches(text: str) -> Fraction:
    """Return a number with a fraction or decimals."""
    return sum((Fraction(part.replace(",", ".")) for part in text.split()), Fraction(0))

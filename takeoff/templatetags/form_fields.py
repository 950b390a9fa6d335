"""How the fields of a form are written."""

from __future__ import annotations

from uuid import uuid4

from django.forms import BoundField
from django.template import Library
from django.utils.safestring import SafeString

register = Library()


@register.filter
def with_caret(field: BoundField) -> SafeString:
    """Return the widget of a field; of those that are wrong, the first that is seen takes the caret."""
    wrong = (one for one in field.form.visible_fields() if one.errors)
    first = next(wrong, None)
    return field.as_widget(attrs={"autofocus": True} if first is not None and first.name == field.name else None)


@register.simple_tag
def new_id() -> str:
    """Return the id of a record that this form makes: pressing twice makes it once."""
    return str(uuid4())

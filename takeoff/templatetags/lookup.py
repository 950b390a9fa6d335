"""Reading a mapping by a key that is itself a variable."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.template import Library

register = Library()


@register.filter
def lookup(mapping: Mapping[Any, Any], key: Any) -> Any:
    """Return what stands under `key`. Raises KeyError: a page that asks for what is not there is wrong."""
    return mapping[key]

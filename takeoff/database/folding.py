"""Names in any case, spacing and spelling of their accents: one function, and a column that keeps what it gives."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Any
from unicodedata import normalize

from django.db import models


def plain(name: str) -> str:
    """Return a name with single spaces, each letter and its accent as one sign where there is one (NFC)."""
    return " ".join(normalize("NFC", name).split())


@lru_cache(maxsize=1 << 12)  # a load names few bins thousands of times
def folded(name: str) -> str:
    r"""
    Return a name as it is compared, on every database alike.

    >>> folded("Étagère  4") == folded("ÉTAGE\u0300RE 4") == "étagère 4"
    True
    """
    return normalize("NFC", plain(name).casefold())


def first_spellings(names: Iterable[str]) -> dict[str, str]:
    """Return names by what they are compared by, each as it is spelled first."""
    found: dict[str, str] = {}
    for name in names:
        found.setdefault(folded(name), plain(name))
    return found


class FoldedField(models.CharField):
    """What the text of the field `of` is compared by, kept with every write."""

    def __init__(self, *args: Any, of: str, **kwargs: Any) -> None:
        super().__init__(*args, **{"editable": False, **kwargs})
        self.of = of

    def deconstruct(self) -> Any:
        """Return how a migration makes the field."""
        name, path, args, kwargs = super().deconstruct()
        return name, path, args, {**kwargs, "of": self.of}

    def pre_save(self, model_instance: models.Model, add: bool) -> str:
        """Return what is written."""
        value = folded(getattr(model_instance, self.of))
        setattr(model_instance, self.attname, value)
        return value

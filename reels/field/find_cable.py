"""Finding cable over the sites that a person may see: so many pieces of one length, each kept whole; remnants first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from django import forms

from reels.field.hands_fields import TapedField
from reels.ledger.entries import ReelEntry
from reels.ledger.models import Reel
from reels.ledger.queries import hands_of, reel_entries, remnants
from takeoff.catalogue.models import Cable
from takeoff.sites.models import Site
from takeoff.units.lengths import LengthError, parse_length
from takeoff.units.sizes import told_size

MOST_PIECES = 999


@dataclass(frozen=True, slots=True)
class CableFound:
    """A reel that gives some of the pieces. holds : how many it could give in all; takes : how many it is asked for."""

    site: Site
    entry: ReelEntry
    holds: int
    takes: int


@dataclass(frozen=True, slots=True)
class CableAnswer:
    """The reels that give the pieces, remnants first, and those that could besides. missing : how many none gives."""

    giving: tuple[CableFound, ...]
    others: tuple[CableFound, ...]
    missing: int


class FindCableForm(forms.Form):
    """So many pieces of one length, of a size."""

    count = forms.IntegerField(min_value=1, max_value=MOST_PIECES, initial=1, label="How many")
    size = forms.ChoiceField(label="Size")

    def __init__(self, *args: Any, site: Site, sites: Sequence[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = site
        kinds = sorted(set(Cable.objects.of(*sites).order_by().values_list("size", "material")))
        self.fields["size"].choices = [  # type: ignore[attr-defined]  # a choice
            (f"{size} {material}", f"{told_size(size)} {Cable.Material(material).label.lower()}")
            for size, material in kinds
        ]
        self.fields["length"] = TapedField(unit=site.unit, label="Each how long", required=True)
        self.order_fields(["count", "length", "size"])

    def clean_length(self) -> int:
        """Return the length. [ticks]"""
        try:
            return parse_length(self.cleaned_data["length"].replace(",", "."), bare=self.site.unit)
        except LengthError as error:
            raise forms.ValidationError(f"Write {error.expected}.") from error

    def answer(self, sites: Sequence[Site]) -> CableAnswer:
        """Return where the pieces lie on the sites that the person may see."""
        size, _, material = self.cleaned_data["size"].rpartition(" ")
        return find_cable_on(sites, self.site, size, material, self.cleaned_data["count"], self.cleaned_data["length"])


def find_cable_on(sites: Sequence[Site], here: Site, size: str, material: str, count: int, length: int) -> CableAnswer:
    """
    Return which reels give `count` pieces of a length, each kept whole. length : [ticks]

    Remnants first, this site's first, the least that is long enough first, so that whole reels stay whole. A few
    queries for each site.
    """
    kept = {entry.reel.pk for one in remnants(sites) for entry in one.entries}
    candidates: list[CableFound] = []
    for site in sites:
        rows = Reel.objects.of(site).filter(state=Reel.State.ON_SITE, cable__size=size, cable__material=material)
        taped = hands_of(site).up(length)
        candidates += [
            CableFound(site, entry, entry.usable // taped, 0)
            for entry in reel_entries(site, reels=rows)
            if entry.usable >= taped and (entry.whole or entry.reel.pk in kept)
        ]
    candidates.sort(key=lambda one: (one.entry.whole, one.site != here, one.entry.usable, one.entry.reel.tag))
    giving: list[CableFound] = []
    others: list[CableFound] = []
    missing = count
    for one in candidates:
        takes = min(one.holds, missing)
        missing -= takes
        (giving if takes else others).append(replace(one, takes=takes))
    return CableAnswer(tuple(giving), tuple(others), missing)

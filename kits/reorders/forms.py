"""Changing the draft of an order."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms

from kits.orders.models import OrderLine
from kits.orders.order_doubts import divisible
from kits.reorders.proposals import Proposed
from takeoff.catalogue.models import Item
from takeoff.database.fields import ExactField
from takeoff.sheets.files.sources import MEGABYTE
from takeoff.sites.forms import NumberInput, at_site
from takeoff.sites.models import Site
from takeoff.units.exact import to_ticks
from takeoff.units.money import minor_digits
from takeoff.units.shown import number

MOST_FILE = 5 * MEGABYTE


class LineForm(forms.Form):
    """What a line of a draft asks for."""

    quantity = NumberInput(min_value=0, decimal_places=4, label="Quantity")
    price = NumberInput(min_value=0, required=False, label="Price of one")
    need_by = forms.DateField(
        required=False, label="Need by", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def __init__(self, data: Any = None, *, site: Site, line: OrderLine) -> None:
        digits = minor_digits(site.currency)
        price = None if line.price is None else Decimal(line.price).scaleb(-digits)
        initial = {"quantity": line.quantity.normalize(), "price": price, "need_by": line.need_by}
        super().__init__(data, initial=initial, prefix=str(line.pk))
        self.line, self.digits = line, digits
        self.fields["price"].label = f"Price of one in {site.currency}"
        at_site(self, site)

    def clean_quantity(self) -> Decimal:
        """Refuse what is nothing, and parts of whole pieces."""
        quantity: Decimal = ExactField().to_python(self.cleaned_data["quantity"]) or Decimal(0)
        if not quantity:
            raise forms.ValidationError("A line asks for more than nothing: take it out instead.")
        if quantity % 1 and (self.line.item is None or not divisible(self.line.item.unit)):
            raise forms.ValidationError("It comes in whole pieces.")
        return quantity

    def clean_price(self) -> int | None:
        """Return whole minor units."""
        price: Decimal | None = self.cleaned_data["price"]
        if price is None:
            return None
        minor = price.scaleb(self.digits)
        if minor != minor.to_integral_value():
            raise forms.ValidationError(f"At most {self.digits} decimal places.")
        return int(minor)

    def asks(self, proposed: Iterable[Proposed]) -> list[str]:
        """
        Return what a person should look at: off the pack, below the least order, below what is lacking.

        proposed : of the line's item or cable, without what this draft asks for.
        """
        quantity, item, run = to_ticks(self.cleaned_data["quantity"]), self.line.item, str(self.line.run or "")
        length = None if self.line.reel_length is None else to_ticks(self.line.reel_length)
        now = next((one for one in proposed if (one.run, one.reel_length) == (run, length)), None)
        said = []
        if item and quantity % to_ticks(item.pack):
            pack = number(to_ticks(item.pack))
            said.append(f"{item} comes in packs of {pack}: {number(quantity)} is no whole number of them.")
        if item and quantity < to_ticks(item.min_order):
            said.append(f"The least order of {item} is {number(to_ticks(item.min_order))}.")
        if now is not None and quantity < now.quantity:
            said.append(f"{number(now.quantity)} of {now.code} are lacking: {number(quantity)} leave some short.")
        return said


class AddForm(forms.Form):
    """A line that a person adds by hand, and why."""

    item = forms.CharField(max_length=60, label="Item", help_text="Its code.")
    quantity = NumberInput(min_value=0, decimal_places=4, label="Quantity")
    reason = forms.CharField(max_length=200, label="Why")

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = site
        at_site(self, site)

    def clean_item(self) -> Item:
        """Return the item of the code."""
        code = self.cleaned_data["item"].strip()
        item = Item.objects.of(self.site).filter(code=code).first()
        if item is None:
            raise forms.ValidationError(f"There is no item {code} here.")
        if item.for_run:
            raise forms.ValidationError(f"{item} is made for a run: tick it on the page of shortages.")
        return item

    def clean(self) -> None:
        """Refuse what is nothing, and parts of whole pieces."""
        item, quantity = self.cleaned_data.get("item"), self.cleaned_data.get("quantity")
        if quantity is not None and not quantity:
            self.add_error("quantity", "A line asks for more than nothing.")
        if item and quantity and quantity % 1 and not divisible(item.unit):
            self.add_error("quantity", "It comes in whole pieces.")


class TakeOutForm(forms.Form):
    """Why a line is taken out."""

    reason = forms.CharField(max_length=200, label="Why")


class ReplyFileForm(forms.Form):
    """The workbook that came back."""

    file = forms.FileField(
        label="The file that came back",
        help_text="The workbook of this order, with the shaded cells filled in. Nothing is kept yet.",
        widget=forms.ClearableFileInput(attrs={"accept": ".xlsx"}),
    )

    def clean_file(self) -> Any:
        """Refuse what is too large."""
        file = self.cleaned_data["file"]
        if file.size > MOST_FILE:
            raise forms.ValidationError(f"It is larger than {MOST_FILE // MEGABYTE} MB.")
        return file

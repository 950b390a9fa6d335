"""Exact numbers as people read them: lengths in the site's unit, quantities, money, days from today."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

from django.http import QueryDict
from django.template import Library

from takeoff.sites.models import Site
from takeoff.units import shown
from takeoff.units.exact import SCALE, from_ticks, to_ticks
from takeoff.units.shown import down, exactly, feet_in, near, up
from takeoff.units.sizes import told_size
from takeoff.units.unit_words import in_stock, needed, unit_for

register = Library()


@register.filter
def site_length(value: Decimal | None, site: Site) -> str:
    """Return a length in millimetres in the site's unit."""
    return "" if value is None else exactly(to_ticks(value), site.unit)


@register.filter
def ticks(value: int | Fraction | None, site: Site) -> str:
    """Return a length in ticks as a tape shows it, in the site's unit."""
    return "" if value is None else near(value, site.unit)


@register.filter
def scale_mark(value: int, site: Site) -> str:
    """Return a length on a scale, all of whose marks are in one unit: metres also below one."""
    return ticks(value, site) if site.unit == "ft" else f"{quantity(Decimal(value) / (1000 * SCALE))} m"


@register.filter
def ticks_up(value: int | Fraction | None, site: Site) -> str:
    """Return a length in ticks that must not read short."""
    return "" if value is None else up(value, site.unit)


@register.filter
def ticks_down(value: int | Fraction | None, site: Site) -> str:
    """Return a length in ticks that must not promise too much."""
    return "" if value is None else down(value, site.unit)


@register.filter
def rate(feet: Decimal, site: Site) -> str:
    """Return a length that is kept in feet in the site's unit."""
    return f"{quantity(feet_in(feet, site.unit))} {site.unit}"


@register.filter
def units(value: int | None) -> str:
    """Return a quantity that comes in ticks."""
    return "" if value is None else shown.number(value)


@register.filter
def as_typed(value: Decimal | int, site: Site) -> str:
    """Return a quantity, in ticks where it is a whole number, as a person at the site types it into a form."""
    return shown.typed(from_ticks(value) if isinstance(value, int) else value, site.country)


@register.filter
def needed_of(value: int | None, unit: str) -> str:
    """Return what is needed of a unit, in ticks, never less than that, with the unit."""
    return "" if value is None else units_of(needed(value, unit), unit)


@register.filter
def need_of(value: Decimal | int | None, unit: str) -> str:
    """Return what is needed of a unit, never less than that, with the unit."""
    return needed_of(None if value is None else to_ticks(value), unit)


@register.filter
def stock_of(value: Decimal | int | None, unit: str) -> str:
    """Return what is there of a unit, never more than there is, with the unit."""
    return "" if value is None else units_of(in_stock(to_ticks(value), unit), unit)


@register.filter
def signed_units(value: int | None) -> str:
    """Return a quantity that comes in ticks and says + when it adds."""
    return "" if value is None else signed(from_ticks(value))


@register.filter
def quantity(value: Decimal | int | None) -> str:
    """Return a quantity with groups of three digits and no trailing zeros."""
    return "" if value is None else shown.decimal(value)


@register.filter
def units_of(value: int | None, unit: str) -> str:
    """Return a quantity that comes in ticks with its unit, one or several; pieces need none."""
    if value is None or unit in {"", "each"}:
        return units(value)
    return f"{units(value)} {unit_for(unit, value)}"


@register.filter
def quantity_of(value: Decimal | int | None, unit: str) -> str:
    """Return a quantity with its unit, one or several; pieces need none."""
    return units_of(None if value is None else to_ticks(value), unit)


@register.filter
def worth_of(value: Decimal | None, unit: str) -> str:
    """Return what pieces of something else are worth of a unit, to two places, with the unit."""
    return "" if value is None else quantity_of(round(value, 2), unit)


@register.filter
def hundredths(value: Fraction | None) -> str:
    """Return a ratio to two places, as near as they come."""
    return "" if value is None else shown.fixed(Decimal(round(value * 100)) / 100, 2)


@register.filter
def size_words(text: str) -> str:
    """Return a conductor size with the unit of its own kind."""
    return told_size(text)


@register.filter
def narrowed(asked: QueryDict) -> bool:
    """Return whether an address asks for less than the whole list."""
    return any(value for key, value in asked.items() if not key.endswith(("sort", "page")))


@register.filter
def signed(value: Decimal | int | None) -> str:
    """Return a quantity that says + when it adds."""
    return f"+{quantity(value)}" if value and value > 0 else quantity(value)


@register.filter
def money(minor: int | None, site: Site) -> str:
    """Return whole minor units as an amount of the site's currency."""
    return "" if minor is None else shown.money(minor, site.currency)


@register.filter
def percent(value: Decimal | Fraction | None) -> str:
    """Return a fraction as a percentage, to a hundredth of a per cent."""
    return "" if value is None else shown.percent(value)


@register.filter
def from_today(day: date | None, today: date) -> str:
    """Return how far off a day is, in words."""
    if day is None:
        return "no date"
    away = (day - today).days
    if away == 0:
        return "today"
    if away == 1:
        return "tomorrow"
    if away == -1:
        return "yesterday"
    return f"in {away} days" if away > 0 else f"{-away} days ago"


@register.filter
def urgency(day: date | None, today: date) -> str:
    """Return the name of the band beside a date: late, soon (within a week), later or undated."""
    if day is None:
        return "undated"
    away = (day - today).days
    return "late" if away < 0 else "soon" if away <= 7 else "later"

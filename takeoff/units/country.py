"""
How a country writes numbers and dates, by the Unicode locale data that Babel carries. Pure: no Django.

Text from a sheet is brought to the one plain way that the parsers read: a point before decimals, no groups, and days as
2026-03-04. What a country does not write is not guessed at.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from functools import cache

from babel import Locale
from babel.core import UnknownLocaleError

from takeoff.units.lengths import NARROW_SPACE

SPACES = " \u00a0\u2009\u202f"
_SPACED = re.compile(rf"(?<![\d.,/-])\d{{1,3}}(?:[{SPACES}]\d{{3}})+(?![\d/]|\s*/)")
_PRIMED = re.compile(r"(?<![\d.,])\d{1,3}(?:'\d{3})+(?!\d)")
_NUMBER = re.compile(r"(?<![\w.,])\d[\d.,]*\d(?![\w]*/)|(?<![\w.,])[.,]\d+")
_DATE = re.compile(r"(?P<a>\d{1,4})(?P<sep>[./-])(?P<b>\d{1,2})(?P=sep)(?P<c>\d{1,4})(?P<rest>[ T].*)?")


class CountryError(ValueError):
    """A number or date that is written otherwise; `expected` names how."""

    def __init__(self, expected: str) -> None:
        super().__init__(f"expected {expected}")
        self.expected = expected


@dataclass(frozen=True, slots=True)
class Habit:
    """
    How numbers and dates are written where a site is. Without a country: with a point, without groups, as 2026-03-04.

    country : its name in English, empty where it is not told. decimal, group : the signs before decimals and between
    thousands. higher : digits of the groups above the thousands, 2 where they count in lakhs. order : of a date's
    parts, as dmy.
    """

    country: str = ""
    decimal: str = "."
    group: str = ""
    higher: int = 3
    order: str = "ymd"

    def number(self, text: str, *, length: bool = False) -> str:
        """
        Return text with its numbers written plainly: `18 500` as 18500, `2,42 kg/m` as 2.42 kg/m where that is meant.

        length : a point before three digits may be decimals there (1.500 m), so that it is not taken as thousands.
        Raises CountryError for a number that the country does not write so.
        """
        if self.group in SPACES and self.group:
            text = _SPACED.sub(lambda found: re.sub(rf"[{SPACES}]", "", found[0]), text)
        elif (found := _SPACED.search(text)) and not (length and NARROW_SPACE in found[0]):  # as pages write lengths
            raise CountryError(f"{re.sub(rf'[{SPACES}]', '', found[0])} without spaces{self._as_written}")
        if self.group == "'" and not length:  # there it stands for feet
            text = _PRIMED.sub(lambda found: found[0].replace("'", ""), text)
        return _NUMBER.sub(lambda found: self._plain(found[0], length), text)

    def day(self, text: str) -> str:
        """
        Return a date of three numbers as 2026-03-04, with what follows it; other text as it is.

        Raises CountryError for one that the country does not write so, or that can be two days.
        """
        match = _DATE.fullmatch(text.strip())
        if match is None or (len(match["a"]) == 4 and match["sep"] == "-"):
            return text
        if not self.country:
            raise CountryError(f"a date such as 2026-03-04: {text.strip()} can be two days, since no country is told")
        parts = dict(zip(self.order, (match["a"], match["b"], match["c"]), strict=True))
        try:
            found = date(int(parts["y"]), int(parts["m"]), int(parts["d"]))
        except ValueError:
            found = date.min
        # Where the month comes first it does so between strokes; 11.01.2027 is how others write.
        if len(parts["y"]) != 4 or found == date.min or (self.order == "mdy" and match["sep"] == "."):
            sample = self._sample("/" if self.order == "mdy" else match["sep"])
            raise CountryError(f"a date such as 2026-03-04, or {sample}{self._as_written}")
        return f"{found.isoformat()}{match['rest'] or ''}"

    @property
    def _as_written(self) -> str:
        return f" (the site's country is {self.country})" if self.country else ""

    def _sample(self, sign: str) -> str:
        return sign.join({"d": "04", "m": "03", "y": "2026"}[part] for part in self.order)

    def _plain(self, number: str, length: bool) -> str:
        if self.decimal == "," and length and re.fullmatch(r"\d{1,3}\.\d{3}", number) and self.group == ".":
            raise CountryError(f"either {number.replace('.', '')} or {number.replace('.', ',')}: both can be meant")
        if self.group in {",", "."}:
            group, higher = re.escape(self.group), self.higher
            if re.fullmatch(
                rf"\d{{1,{higher}}}(?:{group}\d{{{higher}}})*{group}\d{{3}}({re.escape(self.decimal)}\d+)?", number
            ):
                number = number.replace(self.group, "")
        if self.decimal == "," and re.fullmatch(r"\d*,\d+", number):
            return number.replace(",", ".")
        if "," in number:
            point = number.replace(",", ".") if number.count(",") == 1 and "." not in number else "a number"
            if re.fullmatch(r"\d{1,3},\d{3}", number):
                raise CountryError(f"{number.replace(',', '')} or {point}, without a comma: both can be meant")
            sign = "comma" if self.decimal == "," else "point"
            raise CountryError(f"{point} with a {sign} before decimals{self._as_written}")
        if self.group == "." and number.count(".") > 1:
            raise CountryError(f"a number with a comma before decimals{self._as_written}")
        return number


@cache
def locale_of(country: str) -> Locale:
    """
    Return the locale of a country, by its two letters (ISO 3166).

    Where it has several languages, the one that most of its people write. Raises ValueError for what is no country.
    Source: Unicode CLDR, as Babel carries it.
    """
    if not re.fullmatch(r"[A-Z]{2}", country):
        raise ValueError(f"{country!r} is no country")
    try:
        return Locale.parse(f"und_{country}")
    except (UnknownLocaleError, ValueError) as error:
        raise ValueError(f"{country!r} is no country") from error


@cache
def habit_of(country: str) -> Habit:
    """
    Return how a country writes (`locale_of`), one without a country for an empty text.

    Raises ValueError for what is no country.

    >>> habit_of("NO").number("2,42 kg/m"), habit_of("NO").number("18 500"), habit_of("NO").day("11.01.2027")
    ('2.42 kg/m', '18500', '2027-01-11')
    """
    if not country:
        return Habit()
    locale = locale_of(country)
    symbols = locale.number_symbols.get("latn", locale.number_symbols)
    pattern = locale.date_formats["short"].pattern.lower()
    order = "".join(sorted("dmy", key=pattern.index))
    name = Locale("en").territories.get(country, country)
    higher = locale.decimal_formats[None].grouping[1]
    return Habit(name, symbols["decimal"], symbols["group"].replace("’", "'"), higher, order)

"""
Lengths as people write them, to and from whole ticks (1/10 000 mm).

Feet and inches are the trade's own notation: `12' 6 1/2"`, `12-6 1/2`, `12 ft 6 in`. Pure: no Django.
"""

import re
import unicodedata
from decimal import Decimal
from fractions import Fraction

from takeoff.units.exact import SCALE, NotExactError, from_ticks, to_ticks

# International foot and inch, NIST SP 811 Appendix B.8: 1 ft = 0.3048 m, 1 in = 25.4 mm, both exact.
MILLIMETRES = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": Fraction(254, 10),
    "ft": Fraction(3048, 10),
}
SPELLINGS = {
    "mm": "mm",
    "millimetre": "mm",
    "millimetres": "mm",
    "millimeter": "mm",
    "millimeters": "mm",
    "cm": "cm",
    "centimetre": "cm",
    "centimetres": "cm",
    "centimeter": "cm",
    "centimeters": "cm",
    "m": "m",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "in": "in",
    "in.": "in",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "ft": "ft",
    "ft.": "ft",
    "foot": "ft",
    "feet": "ft",
    "'": "ft",
}
EXPECTED = "a length such as 12' 6 1/2\", 12-6 1/2, 120 ft, 6 in, 3.2 m or 450 mm"
EXPECTED_WITH_UNIT = "a length with its unit, such as 6 1/2 in, 9 mm or 0.25 ft"
# What is said of either on a site, by its unit.
EXPECTED_ON = {"ft": EXPECTED, "m": "a length such as 3.2 m, 450 mm, 12.5 or 12 ft 6 in"}
EXPECTED_WITH_UNIT_ON = {"ft": EXPECTED_WITH_UNIT, "m": "a length with its unit, such as 9 mm, 0.9 m or 6 in"}

SIXTEENTH = 15_875  # ticks of 1/16 in
FOOT = 3_048_000
INCH = 254_000

NARROW_SPACE = "\u202f"  # between groups of three digits, as quantities have it on pages
_GROUP = re.compile(rf"(?<=\d){NARROW_SPACE}(?=\d{{3}}(?!\d|\s*/))")

# Ways of typing primes, dashes and spaces that mean the same.
_SAME = str.maketrans(
    {
        **dict.fromkeys("′’‘´`ʹ", "'"),
        **dict.fromkeys("″”“ʺ", '"'),
        **dict.fromkeys("–—−‑‐", "-"),
        "⁄": "/",
        "\u00a0": " ",
        "\u2009": " ",
        "\u202f": " ",
    }
)
_WHOLE = r"\d{1,12}"
_NUMBER = rf"(?:{_WHOLE}(?:\.\d{{1,12}})?|\.\d{{1,12}})"
_RATIO = r"\d{1,6}\s*/\s*\d{1,6}"
_MIXED = rf"(?:(?P<whole>{_WHOLE})[\s-]+(?P<part>{_RATIO})|(?P<ratio>{_RATIO})|(?P<number>{_NUMBER}))"
_FEET_INCHES = re.compile(
    rf"(?P<feet>{_WHOLE})\s*(?:'|ft\.?|feet|foot)\s*-?\s*{_MIXED}\s*(?:\"|in\.?|inch|inches)?", re.IGNORECASE
)
_DASHED = re.compile(rf"(?P<feet>{_WHOLE})\s*-\s*{_MIXED}")
_ONE = re.compile(rf"{_MIXED}\s*(?P<unit>[a-z]+\.?|'|\")?", re.IGNORECASE)


class LengthError(ValueError):
    """Text that is no length: `found` is what stood there, `expected` what is accepted."""

    def __init__(self, found: str, expected: str) -> None:
        super().__init__(f"found {found!r}, expected {expected}")
        self.found = found
        self.expected = expected


def parse_length(text: str, *, bare: str | None) -> int:
    r"""
    Return a length in ticks (1/10 000 mm), exactly.

    text : feet and inches, or a number (decimal, fraction or mixed) with a unit.
    bare : the unit of a number that names none (ft, in, m, mm or cm); None refuses such a number.
    Raises LengthError for anything else, and for a length that ticks cannot hold exactly (1/64 in).

    >>> parse_length("12' 6 1/2\"", bare=None), parse_length("187.5", bare="ft")
    (38227000, 571500000)
    """
    plain = _plain(text)
    sign = -1 if plain.startswith("-") else 1
    body = plain.removeprefix("-").lstrip()
    return sign * _ticks(_millimetres(body, text, bare), text)


def parse_number(value: Decimal | int, *, bare: str) -> int:
    """
    Return a bare number of the unit `bare` in ticks.

    Raises LengthError when ticks cannot hold it exactly.
    """
    return _ticks(Fraction(value) * MILLIMETRES[bare], f"{value} {bare}")


def length_unit(text: str) -> str | None:
    """Return ft, in, m, mm or cm for any accepted spelling, None for another word."""
    return SPELLINGS.get(_plain(text).lower())


def show_length(ticks: int, unit: str) -> str:
    r"""
    Return a length as the site writes it, never rounded: `parse_length` gives the same ticks back.

    ticks : the length. [1/10 000 mm]
    unit : the site's, ft (feet and inches to 1/16, else decimal feet or inches, else mm) or m (metres, below one mm).

    >>> show_length(38_227_000, "ft"), show_length(32_000_000, "m")
    ('12\' 6 1/2"', '3.2 m')
    """
    if unit not in {"ft", "m"}:
        raise ValueError(f"a site's unit is ft or m, not {unit!r}")
    sign = "-" if ticks < 0 else ""
    size = abs(ticks)
    return sign + (_feet_inches(size) if unit == "ft" else _metric(size))


def _plain(text: str) -> str:
    """Return text without groups of digits and with every vulgar fraction, prime, dash and space in its plain form."""
    text = _GROUP.sub("", text)
    spaced = "".join(
        f" {unicodedata.normalize('NFKC', sign)}"
        if unicodedata.category(sign) == "No" and "⁄" in unicodedata.normalize("NFKC", sign)
        else sign
        for sign in text
    )
    return " ".join(spaced.translate(_SAME).replace("''", '"').split())


def _millimetres(body: str, text: str, bare: str | None) -> Fraction:
    """Return the millimetres that the plain text `body` means; `text` is what errors show."""
    if match := _FEET_INCHES.fullmatch(body) or _DASHED.fullmatch(body):
        if match.re is _DASHED and match["ratio"]:
            whole, ratio = match["feet"], match["ratio"]
            raise LengthError(text, f'either {whole} {ratio}" or {whole}\' 0 {ratio}": both can be meant')
        inches = _mixed(match, text)
        if inches >= 12:
            raise LengthError(text, "inches below 12 after feet")
        return int(match["feet"]) * MILLIMETRES["ft"] + inches * MILLIMETRES["in"]
    match = _ONE.fullmatch(body)
    if match is None:
        expected = EXPECTED if bare else EXPECTED_WITH_UNIT
        raise LengthError(text, f"{expected}, without a comma" if "," in body else expected)
    number = _mixed(match, text)
    if match["unit"] is None:
        if bare is None:
            raise LengthError(text, EXPECTED_WITH_UNIT)
        return number * MILLIMETRES[bare]
    unit = SPELLINGS.get(match["unit"].lower())
    if unit is None:
        raise LengthError(text, f"{EXPECTED}; {match['unit']!r} is no unit of length here")
    return number * MILLIMETRES[unit]


def _mixed(match: re.Match[str], text: str) -> Fraction:
    """Return the number that a match of `_MIXED` holds."""
    if match["number"]:
        return Fraction(match["number"])
    above, below = (int(part) for part in (match["part"] or match["ratio"]).split("/"))
    if below == 0:
        raise LengthError(text, "a fraction whose lower number is not 0")
    if match["part"] and above >= below:
        raise LengthError(text, "a fraction below one after the whole number")
    return Fraction(match["whole"] or 0) + Fraction(above, below)


def _ticks(millimetres: Fraction, text: str) -> int:
    """Return whole ticks, or say why there are none."""
    try:
        return to_ticks(millimetres)
    except NotExactError as error:
        if abs(millimetres) * SCALE >= 2**63:
            raise LengthError(text, "a length that can be built") from error
        raise LengthError(
            text, "a length that is exact to 1/10 000 mm: 1/16 in or 1/32 in, 0.001 in, 0.001 ft or 0.1 mm are"
        ) from error


def _feet_inches(ticks: int) -> str:
    """Return feet and inches, or the shortest decimal that is exact."""
    if ticks % SIXTEENTH == 0:
        feet, rest = divmod(ticks, FOOT)
        inches, part = divmod(rest, INCH)
        fraction = Fraction(part, INCH)
        shown = f"{inches} {fraction}" if inches and fraction else f"{fraction if fraction else inches}"
        if not feet:
            return f'{shown}"'
        return f"{feet}' {inches} {fraction}\"" if fraction else f"{feet}' {inches}\""
    if ticks < FOOT and ticks % (INCH // 1000) == 0:
        return f"{_decimal(ticks, INCH)} in"
    if ticks % (FOOT // 1000) == 0:
        return f"{_decimal(ticks, FOOT)} ft"
    return f"{from_ticks(ticks)} mm"


def _metric(ticks: int) -> str:
    """Return metres, or millimetres below one metre."""
    if ticks < 1000 * SCALE:
        return f"{from_ticks(ticks)} mm"
    return f"{_decimal(ticks, 1000 * SCALE)} m"


def _decimal(ticks: int, unit: int) -> str:
    """Return ticks / unit as a decimal without trailing zeros; the callers know that it ends."""
    return f"{(Decimal(ticks) / Decimal(unit)).normalize():f}"

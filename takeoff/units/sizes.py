"""
Conductor sizes on one scale: AWG, kcmil and mm² compared by cross-section.

Pure: no Django. Cross-sections of AWG sizes are the circular mils of NFPA 70 Chapter 9 Table 8 (6 to 1 AWG and below
from memory, checked against the definition of the gauge in `tests/outside/test_units.py`); 1 circular mil is
5.067075E-10 m², NIST SP 811 Appendix B.
"""

import re
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache

MM2_PER_KCMIL = Fraction(5_067_075, 10**7)
AWG_KCMIL = {
    "14": Fraction("4.11"),
    "12": Fraction("6.53"),
    "10": Fraction("10.38"),
    "8": Fraction("16.51"),
    "6": Fraction("26.24"),
    "4": Fraction("41.74"),
    "3": Fraction("52.62"),
    "2": Fraction("66.36"),
    "1": Fraction("83.69"),
    "1/0": Fraction("105.6"),
    "2/0": Fraction("133.1"),
    "3/0": Fraction("167.8"),
    "4/0": Fraction("211.6"),
}
KCMIL = (250, 300, 350, 400, 500, 600, 700, 750, 800, 900, 1000, 1250, 1500, 1750, 2000)
# IEC 60228 sizes from 1 to 2500 mm² (from memory); those whose number is also that of an AWG or kcmil size are both.
_METRIC = (
    *("4", "6", "10", "16", "25", "35", "50", "70", "95", "120", "150", "185", "240", "300", "400", "500", "630"),
    *("800", "1000", "1200", "1400", "1600", "1800", "2000", "2500", "1"),
)
BOTH_KINDS = {size: "AWG" for size in _METRIC if size in AWG_KCMIL}
BOTH_KINDS |= {size: "kcmil" for size in _METRIC if int(size) in KCMIL}
EXPECTED = "a size such as 4/0, 2 AWG, 500 kcmil or 240 mm2"

# Tables print the metric value of an AWG or kcmil size rounded (53.5 mm² is 1/0). No size of the IEC 60228 series
# comes this near to one; the nearest, 630 mm² and 1250 kcmil, differ by 0.5 %.
SAME_WITHIN = Fraction(3, 1000)

_SIZE = re.compile(
    r"(?:#\s*)?(?P<value>\d{1,2}\s*/\s*0|0{1,4}|\d{1,5}(?:\.\d{1,4})?)\s*(?P<unit>awg|kcmil|mcm|mm2|mm\^2|mm²|sq\.?\s*mm)?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True, order=True)
class CableSize:
    """A cross-section, exact, and its name. Sizes order by cross-section. [mm²]"""

    area_mm2: Fraction
    name: str = field(compare=False)

    def __str__(self) -> str:
        return self.name


class SizeError(ValueError):
    """Text that is no conductor size: `found` is what stood there, `expected` what is accepted."""

    def __init__(self, found: str, expected: str = EXPECTED) -> None:
        super().__init__(f"found {found!r}, expected {expected}")
        self.found = found
        self.expected = expected


@cache
def parse_size(text: str) -> CableSize:
    """
    Return the size that `text` names.

    A bare number is an AWG or kcmil size only when it is a trade size (2, 500); other bare numbers are refused, since
    50 or 240 could mean mm². A metric value within 0.3 % of an AWG or kcmil size is that size.
    Raises SizeError.

    >>> parse_size("1/0") == parse_size("53.5 mm2") < parse_size("240 mm2") < parse_size("500")
    True
    """
    match = _SIZE.fullmatch(" ".join(str(text).split()))
    if match is None:
        raise SizeError(text)
    value = match["value"].replace(" ", "")
    unit = (match["unit"] or "").lower()
    if set(value) == {"0"}:
        value = f"{len(value)}/0"
    if value in AWG_KCMIL and unit in {"", "awg"}:
        return _of_kcmil(AWG_KCMIL[value], value)
    if "/" in value or unit == "awg":
        raise SizeError(text, f"a size from {next(iter(AWG_KCMIL))} to 4/0 AWG")
    number = Fraction(value)
    if number == 0:
        raise SizeError(text)
    if unit in {"kcmil", "mcm"}:
        name = value if number in KCMIL else f"{value} kcmil"
        return CableSize(_snapped(number * MM2_PER_KCMIL), name)
    if unit:
        return CableSize(_snapped(number), f"{value} mm2")
    if number in KCMIL:
        return _of_kcmil(number, value)
    raise SizeError(text, f"a size with its unit: {value} kcmil or {value} mm2")


def size_unit(text: str) -> str | None:
    """Return AWG, kcmil or mm2 for any accepted spelling of a unit of sizes, None for another word."""
    match = _SIZE.fullmatch(f"1 {text.strip()}")
    unit = (match["unit"] or "").lower() if match else ""
    if unit in {"kcmil", "mcm"}:
        return "kcmil"
    return {"": None, "awg": "AWG"}.get(unit, "mm2")


def told_size(text: str) -> str:
    """
    Return a size as people write it, with the unit of its own kind; text that is no size stays as it is.

    >>> told_size("500"), told_size("4/0"), told_size("150 mm2")
    ('500 kcmil', '4/0 AWG', '150 mm²')
    """
    try:
        name = parse_size(text).name
    except SizeError:
        return text
    if name in AWG_KCMIL:
        return f"{name} AWG"
    return f"{name} kcmil" if name.isdigit() else name.replace("mm2", "mm²")


def size_for(text: str, unit: str) -> str:
    """
    Return a size as people write it on a site, in metres with its cross-section.

    unit : the site's, ft or m.

    >>> size_for("500", "ft"), size_for("500", "m"), size_for("1/0", "m"), size_for("300 mm2", "m")
    ('500 kcmil', '500 kcmil, 253 mm²', '1/0 AWG, 53.5 mm²', '300 mm²')
    """
    told = told_size(text)
    if unit != "m" or told.endswith("mm²"):
        return told
    area = parse_size(text).area_mm2
    return f"{told}, {float(area):.{0 if area >= 100 else 1}f} mm²"


def _of_kcmil(kcmil: Fraction, name: str) -> CableSize:
    return CableSize(kcmil * MM2_PER_KCMIL, name)


@cache
def trade_sizes() -> tuple[CableSize, ...]:
    """Return every AWG and kcmil trade size, smallest first."""
    gauges = [_of_kcmil(kcmil, name) for name, kcmil in AWG_KCMIL.items()]
    return (*gauges, *(_of_kcmil(Fraction(kcmil), str(kcmil)) for kcmil in KCMIL))


def _snapped(area: Fraction) -> Fraction:
    """Return the cross-section of the trade size that a printed value means, else the value itself. [mm²]"""
    for size in trade_sizes():
        if abs(area - size.area_mm2) <= SAME_WITHIN * size.area_mm2:
            return size.area_mm2
    return area

"""The circle, in exact fractions."""

from fractions import Fraction

# π as one fraction, so that beads, holes and bends stay exact and every machine agrees: a convergent of its continued
# fraction, 2.5e-17 below the true value relative to it. Checked against the first 40 digits in the tests.
PI = Fraction(245_850_922, 78_256_779)


def circle_area(diameter: int | Fraction) -> Fraction:
    """Return the area of a circle, in the square of the unit of `diameter`: π/4 × diameter²."""
    return PI / 4 * diameter * diameter

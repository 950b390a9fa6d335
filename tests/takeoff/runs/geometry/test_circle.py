"""The circle in exact fractions; π itself is checked in tests/outside/test_takeoff.py."""

from fractions import Fraction
from math import pi

import pytest

from takeoff.runs.geometry.circle import PI, circle_area


def test_the_area_of_a_circle_is_pi_quarters_of_its_diameter_squared():
    assert circle_area(2) == PI
    assert circle_area(0) == 0
    assert float(circle_area(Fraction(3, 2))) == pytest.approx(pi * 0.75**2, rel=1e-15)

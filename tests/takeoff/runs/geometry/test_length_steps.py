"""Where a length comes from says what was measured and what was only drawn."""

import pytest

from takeoff.runs.geometry.facts import EndFacts
from takeoff.runs.geometry.length_steps import length_steps
from tests.takeoff.facts import FT, run, straight


@pytest.mark.parametrize(
    ("sections", "measured", "told"),
    [
        ((10, None), None, ("Centre line, as drawn", "2 × 10' 0\" straight", "20' 0\"")),
        (
            (10, 11 * FT), None,
            ("Centre line, as built by section", "1 × 10' 0\" straight + 1 × 11' 0\" straight", "21' 0\""),
        ),
        ((10, None), 22 * FT, ("Centre line, as built", "measured for the whole run; drawn 20' 0\"", "22' 0\"")),
    ],
)  # fmt: skip
def test_the_centre_line_says_whether_it_was_measured(sections, measured, told):
    feet, one = sections
    facts = run(straight(feet * FT), straight(feet * FT, seq=2, measured=one), measured=measured)
    first = length_steps(facts, "A1", unit="ft").steps[0]
    assert (first.label, first.working, first.result) == told


def test_an_end_that_says_nothing_adds_nothing():
    end = EndFacts("from")
    assert (end.stick_out, end.ground_tail, end.min_stick_out, end.seal) == (0, 0, None, "none")
    assert (end.lug_holes, end.ground_lug_holes) == (2, 2)

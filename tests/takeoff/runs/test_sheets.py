"""What is refused at the door, and what is looked at again: the sheets of runs and sections."""

from copy import deepcopy

import pytest

from takeoff.models import Measurement, Run
from tests.takeoff.sheets.books import PACKAGE, load, told

pytestmark = pytest.mark.django_db


def package(size: str, code: str):
    """The smallest package, its conductors of this size and its site under this code."""
    tables = deepcopy(PACKAGE)
    tables["site"] = [[*tables["site"][0], "code"], [*tables["site"][1], code]]
    tables["cables"][1][1] = size
    return tables


def test_conductors_below_1_0_are_refused_at_their_cell():
    result = load(package("2", "NFPA 70"))
    assert told(result) == [
        f"runs, row {row}, column cable: found C500, expected a cable of 1/0 AWG or larger (NFPA 70-2008 370.4(C)). "
        "The adopted local code and the engineer of record decide."
        for row in (2, 3)
    ]
    assert not Run.objects.exists()


@pytest.mark.parametrize(("size", "code"), [("1/0", "NFPA 70"), ("2", "other")])
def test_larger_ones_load_and_another_code_only_notes(size, code):
    assert load(package(size, code)).loaded


def measured(run: str, length: str):
    """The smallest package, with a run's length as built; R-101 is drawn 28' 8 1/2", R-102 20'."""
    tables = deepcopy(PACKAGE)
    head, *rows = tables["runs"]
    tables["runs"] = [[*head, "as_built_length"], *([*row, length if row[0] == run else None] for row in rows)]
    return tables


@pytest.mark.parametrize(("length", "told_of"), [("22 ft", False), ("22.1 ft", True), ("17 ft", True)])
def test_a_length_as_built_far_off_the_drawn_one_is_looked_at(length, told_of):
    """Whether the sections come with it, or were there before; the same measurement is asked about once."""
    first = load(measured("R-102", length), slug="first")
    assert [caution.column for caution in first.cautions] == ["run"] * told_of
    assert [caution.column for caution in load(measured("R-102", length), slug="first").cautions] == []

    load(PACKAGE, slug="later")
    cautions = [str(caution) for caution in load(measured("R-102", length), slug="later").cautions]
    off = "as built is more than 10 % off the drawn 20' 0\""
    assert [caution.startswith("runs, row 3, column as_built_length") for caution in cautions] == [True] * told_of
    assert all(caution.endswith(off) for caution in cautions)


@pytest.mark.parametrize(
    ("length", "expected"), [("201 ft", "at most 10 times the drawn 20' 0\""), ("11000 m", "at most 10 km")]
)
def test_a_length_as_built_that_no_run_has_is_refused(length, expected):
    for before in (False, True):
        if before:
            assert load(PACKAGE).loaded
        result = load(measured("R-102", length))
        assert not result.loaded
        (problem,) = result.problems
        assert problem.expected == expected
    assert not Measurement.objects.exists()


def test_a_section_is_held_against_its_own_drawn_length():
    rows = [["run", "seq", "kind", "length", "as built"], ["R-102", 1, "straight", "20 ft", "23 ft"]]
    (caution,) = load(PACKAGE | {"sections": rows}).cautions
    assert (caution.column, caution.text) == (
        "as_built",
        "23' 0\" as built is more than 10 % off the drawn 20' 0\"",
    )
    rows[1][-1] = "203 ft"
    assert told(load(PACKAGE | {"sections": rows})) == [
        "sections, row 2, column as_built: found 203' 0\" as built, expected at most 10 times the drawn 20' 0\""
    ]

"""What a code refuses, at the door: the sheet of runs."""

from copy import deepcopy

import pytest

from takeoff.models import Run
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
        f"runs, row {row}, column cable: found C500, expected a cable of 1/0 or larger (NFPA 70-2008 370.4(C)). "
        "The adopted local code and the engineer of record decide."
        for row in (2, 3)
    ]
    assert not Run.objects.exists()


@pytest.mark.parametrize(("size", "code"), [("1/0", "NFPA 70"), ("2", "other")])
def test_larger_ones_load_and_another_code_only_notes(size, code):
    assert load(package(size, code)).loaded

"""The two rule books that ship load as they are, each on a site of its own unit."""

from pathlib import Path

import pytest

from takeoff.models import Site
from takeoff.sheets.files.sources import read_path
from takeoff.sheets.services import load_sheets
from tests.takeoff.sheets.books import load, told

pytestmark = pytest.mark.django_db
BOOKS = Path("takeoff/rules/books")


@pytest.mark.parametrize(
    ("name", "unit", "country"), [("feet", "ft", "US"), ("metric", "m", "NO"), ("metric", "m", "DE")]
)
def test_a_book_loads_on_a_site_of_its_unit(name, unit, country):
    load({"site": [["name", "unit", "country"], ["Here", unit, country]]}, slug="here")
    result = load_sheets(sheets=read_path(BOOKS / name), slug="here")
    assert told(result) == []
    assert result.loaded
    assert Site.objects.get().rule_books.count() == 1

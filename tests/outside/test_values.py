"""Every row that the project holds is cited by a test, and says where it is from."""

import re
from pathlib import Path

import pytest

from tests.outside.values import all_rows, values

TESTS = Path(__file__).parent


def cited() -> set[str]:
    text = "".join(path.read_text(encoding="utf-8") for path in TESTS.glob("test_*.py"))
    ranges = re.findall(r'values\("([A-Z]+-\d+)", "([A-Z]+-\d+)"\)', text)
    one_by_one = set(re.findall(r'value\("([A-Z]+-\d+)"\)', text))
    return one_by_one | {row.id for first, last in ranges for row in values(first, last)}


def test_each_row_is_cited_by_a_test():
    assert cited() == set(all_rows())


@pytest.mark.parametrize("row", all_rows().values(), ids=all_rows())
def test_each_row_says_where_it_is_from(row):
    assert row.source
    assert row.status in {"read", "common-practice", "memory"}

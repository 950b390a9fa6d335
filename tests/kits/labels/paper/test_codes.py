"""A code is read again by a reader of its own."""

import pytest

from kits.labels.paper.codes import QUIET, code_of
from tests.kits.labels.drawn import address_of

ADDRESSES = [
    "https://reelkeep.example/here/t/p1/",
    "https://store.reelkeep.example:8443/a-site-with-a-long-name-of-fifty-letters-at-the-most/t/r123456789012345678/",
    "http://localhost:8000/s/t/b7/",
]


@pytest.mark.parametrize("address", ADDRESSES)
def test_a_code_is_read_again(address):
    assert address_of(code_of(address).path) == address


def test_the_standard_s_border_stays_white():
    code = code_of(ADDRESSES[0])
    corner = f"M{QUIET} {QUIET}h7v1h-7z"
    assert code.path.startswith(corner), "the upper left pattern stands at the border"
    assert (code.side - 2 * QUIET - 17) % 4 == 0, "a side that codes have"

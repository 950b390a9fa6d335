"""What to write before signing."""

import doctest

import pytest

from kits.gate import paper_words
from kits.gate.paper_words import CLEAN, words_for_paper


def test_the_examples_hold():
    assert doctest.testmod(paper_words).failed == 0


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"listed": 3, "here": 3}, CLEAN),
        ({"listed": 0, "here": 2}, CLEAN),
        ({"listed": 3, "here": 4}, "Received 4 of 3 packages."),
        ({"listed": 0, "here": 1, "damaged": ["A"]}, "Damaged outside: A, contents not checked."),
        ({"listed": 2, "here": 2, "seal_broken": True}, "Seal broken on arrival."),
        (
            {"listed": 4, "here": 2, "missing": ["A", "B"], "damaged": ["C"], "seal_broken": True},
            "Received 2 of 4 packages. Missing: A, B. Damaged outside: C, contents not checked. "
            "Seal broken on arrival.",
        ),
    ],
)
def test_what_is_seen_outside_is_named_and_a_clean_truck_gets_no_words(facts, words):
    assert words_for_paper(**facts) == words
    # Carrier and distributor notices: "subject to inspection" is no exception.
    assert "inspection" not in words_for_paper(**facts)

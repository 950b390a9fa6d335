"""What is still to be claimed."""

from kits.claims.course.still_to_claim import still_to_claim
from kits.receiving.counting.by_truck import Found


def test_what_a_claim_asks_for_is_not_asked_for_twice():
    found = Found(short=5, damaged=3, refused=2, wrong=(("NUT", 4),))
    assert still_to_claim(found, Found()) == found
    assert not still_to_claim(found, found).claimable
    assert still_to_claim(found, Found(short=9, damaged=1)) == Found(damaged=2, refused=2, wrong=(("NUT", 4),))


def test_what_came_beyond_the_list_is_no_claim():
    assert not still_to_claim(Found(over=4), Found()).claimable

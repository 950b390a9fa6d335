"""So many pieces of one length, each whole, over the sites that one may see."""

import pytest

from takeoff.models import User
from tests.factories.reels import ReelFactory
from tests.factories.takeoff import CableFactory, MemberFactory, SiteFactory
from tests.reels.makers import cut
from tests.reels.plans.web import text_of, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def asked(site, foreman):
    def ask(**cells):
        answer = foreman.get(url("find_cable", site), {"count": 3, "length_0": 84, "size": "500 Cu", **cells})
        return answer.status_code, text_of(answer)

    return ask


def remnant(site, cable, tag, left, **fields):
    """A reel of 1000 ft without marks on which so many feet are left."""
    reel = ReelFactory(site=site, cable=cable, tag=tag, feet=1000, **fields)
    cut(reel, taped=1000 - left)
    return reel


def test_remnants_come_first_and_whole_reels_last(site, cable, asked):
    remnant(site, cable, "SHORT", 83)
    remnant(site, cable, "ONE", 100)
    remnant(site, cable, "TWO", 168)
    ReelFactory(site=site, cable=cable, tag="WHOLE", feet=1000)
    status, said = asked()
    assert status == 200
    assert "All 3 are here" in said
    assert said.index("1 × ONE") < said.index("2 × TWO") < said.index("1 more holds it")
    assert "SHORT" not in said


def test_a_piece_is_never_put_together_of_two(site, cable, asked):
    for tag in ("A", "B", "C", "D"):
        remnant(site, cable, tag, 70)
    assert "3 of 3 lie on no reel" in asked()[1]
    assert "All 4 are here" in asked(count=4, length_0=70)[1]


def test_sites_that_one_may_not_see_are_left_out(site, cable, asked):
    there, hidden = SiteFactory(slug="there"), SiteFactory(slug="hidden")
    for other, tag in ((there, "OVER-THERE"), (hidden, "HIDDEN")):
        remnant(other, CableFactory(site=other), tag, 500)
    MemberFactory(site=there, user=User.objects.get(username__startswith="person-"), role="viewer")
    said = asked()[1]
    assert "OVER-THERE" in said
    assert "HIDDEN" not in said


def test_what_is_on_hold_or_of_another_size_is_left_out(site, cable, asked):
    remnant(site, cable, "HELD", 500).__class__.objects.of(site).filter(tag="HELD").update(state="held")
    remnant(site, CableFactory(site=site, code="AL", material="Al"), "ALUMINUM", 500)
    assert "3 of 3 lie on no reel" in asked()[1]
    assert "ALUMINUM" in asked(size="500 Al")[1]


@pytest.mark.parametrize("cells", [{"length_0": "84/6"}, {"length_0": ""}, {"count": 0}, {"size": "9 Cu"}])
def test_what_cannot_be_looked_for_comes_back(site, cable, asked, cells):
    assert asked(**cells)[0] == 422

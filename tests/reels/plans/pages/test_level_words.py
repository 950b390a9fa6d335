import pytest

from reels.plans.pages.level_words import difference, length, levels

PLAN = {
    "levels": {"unmetFeet": 0.0, "scrapFeet": 12.5, "wholeReelsOpened": 3, "remnants": 2, "setups": 9},
    "bounds": {"unmetFeet": 0.0, "scrapFeet": 4.0, "wholeReelsOpened": 3, "remnants": 0, "setups": None},
    "proven": {"wholeReelsOpened": True},
}


def test_each_level_says_what_is_known_about_better():
    known = {level.name: (level.amount, level.known, level.proven) for level in levels(PLAN, unit="ft")}
    assert known == {
        "Cannot be cut": ("0 ft", "everything can be cut", True),
        "Scrap": ("12.5 ft", "no plan can scrap less than 4 ft", False),
        "Whole reels opened": ("3", "proven: no plan opens fewer", True),
        "Remnants made": ("2", "nothing is proven", False),
        "Set-ups": ("9", "nothing is proven", False),
    }


def test_a_level_without_a_bound_is_part_of_what_is_proven_as_a_whole():
    known = {level.name: level.known for level in levels(PLAN, unit="ft", best=True)}
    assert known["Scrap"] == known["Set-ups"] == "best together with the others"
    assert known["Whole reels opened"] == "proven: no plan opens fewer"


def test_none_of_a_level_is_said_in_its_own_words():
    none = {"unmetFeet": 0.0, "scrapFeet": 0.0, "wholeReelsOpened": 0, "remnants": 0, "setups": 0}
    told = [level.known for level in levels({"levels": none, "bounds": {}, "proven": {}}, unit="ft", best=True)]
    assert told == [
        "everything can be cut",
        "nothing is scrapped",
        "every whole reel stays whole",
        "no end is left to keep",
        "nothing is to be set up",
    ]


def test_levels_of_a_plan_still_worked_out_need_no_proofs():
    so_far = levels({"levels": {"scrapFeet": 3.0}, "bounds": {}, "proven": {}}, unit="ft")
    assert [(level.name, level.known) for level in so_far] == [("Scrap", "nothing is proven")]


@pytest.mark.parametrize(
    ("other", "told"),
    [
        ({}, ""),
        ({"scrapFeet": 6.5, "wholeReelsOpened": 6}, "scraps 6 ft less, but opens 3 more whole reels"),
        ({"remnants": 1, "setups": 4}, "makes 1 fewer remnant and needs 5 fewer set-ups"),
        ({"unmetFeet": 100.0}, "leaves 100 ft more uncut"),
        (
            {"scrapFeet": 0.0, "wholeReelsOpened": 2, "remnants": 5, "setups": 10},
            "scraps 12.5 ft less and opens 1 fewer whole reel, but makes 3 more remnants and needs 1 more set-up",
        ),
    ],
)
def test_a_difference_tells_the_better_first(other, told):
    assert difference(PLAN["levels"], PLAN["levels"] | other, unit="ft") == told


def test_lengths_are_told_in_the_sites_unit():
    # NIST SP 811: a foot is 0.3048 m exactly.
    assert (length(1250.04, "ft"), length(1000.0, "m"), length(0.0, "ft")) == ("1\u202f250 ft", "304.8 m", "0 ft")

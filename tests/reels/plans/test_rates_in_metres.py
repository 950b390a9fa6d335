"""On a site in metres the plan, its rates and their inputs are told in metres; they are kept in feet."""

from decimal import Decimal

from reels.planner.files.as_text import tell
from reels.planner.options import usual_rates
from reels.plans.forms import AskForm
from reels.plans.models import CutPlan
from takeoff.models import Site

ASKED = {
    "order": "rates",
    "rate_whole": "3",
    "rate_remnant": "0.6",
    "rate_setup": "0.06",
    "reels": "here",
    "seconds": 5,
}


def test_rates_are_given_in_metres_and_kept_in_feet():
    form = AskForm(ASKED, site=Site(unit="m"))
    assert form.is_valid()
    # 3 m / 0.3048 m = 9.8425 ft
    assert Decimal(form.options().rates.whole.numerator) / form.options().rates.whole.denominator == Decimal("9.8425")
    assert form.fields["rate_whole"].help_text.startswith("Metres of scrap")


def test_rates_come_back_as_they_were_given():
    plan = CutPlan(rate_whole=Decimal("9.8425"), rate_remnant=Decimal("1.9685"), rate_setup=Decimal("0.1969"))
    form = AskForm.like(plan, site=Site(unit="m"))
    names = ("rate_whole", "rate_remnant", "rate_setup")
    assert [form[name].value() for name in names] == ["3", "0.6", "0.06"]
    form = AskForm.like(plan, site=Site(unit="m", country="NO"))
    assert [form[name].value() for name in names] == ["3", "0,6", "0,06"]
    assert AskForm({**ASKED, "rate_setup": "0,06"}, site=Site(unit="m", country="NO")).is_valid()


def test_the_usual_rates_are_round_in_the_units_of_the_site():
    names = ("rate_whole", "rate_remnant", "rate_setup")
    feet, metres = (AskForm.like(None, site=Site(unit=unit)) for unit in ("ft", "m"))
    assert [feet[name].value() for name in names] == ["10", "2", "0.2"]
    assert [metres[name].value() for name in names] == ["3", "0.6", "0.06"]
    kept = usual_rates("m")
    assert [round(float(rate) * 0.3048, 4) for rate in (kept.whole, kept.remnant, kept.setup)] == [3, 0.6, 0.06]


def test_a_plan_is_told_in_metres():
    answer = {
        "name": "C", "kind": "reels", "stopped": "finished", "plan": [], "unmet": {}, "buy": [],
        "levels": {"unmetFeet": 0, "scrapFeet": 10.0, "wholeReelsOpened": 0, "remnants": 0, "setups": 0},
        "bounds": {"unmetFeet": 0, "scrapFeet": 5.0, "wholeReelsOpened": 0, "remnants": 0, "setups": 0},
    }  # fmt: skip
    # 10 ft are 3.048 m, 5 ft 1.524 m.
    assert list(tell(answer, unit="m"))[1:] == ["  3.05 m of scrap, at least 1.52 m is proven"]
    assert list(tell(answer))[1:] == ["  10 ft of scrap, at least 5 ft is proven"]

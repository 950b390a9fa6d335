"""A foreman at a reel, on a phone: a first cut by tape, the next mark, taken back, the rest tagged."""

import re

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from kits.demo.services import plan_cables
from reels.models import Cut, Reel
from takeoff.records.services import keep_one
from tests.browser.pages import PHONE


@pytest.fixture
def reel(site) -> Reel:
    """A whole reel that an accepted plan cuts for runs that may be cut to the drawing."""
    plan_cables(site=site)
    found = Reel.objects.of(site).filter(planned_cuts__plan__state="accepted", state="on site").order_by("tag").first()
    for run in {cut.conductor.run for cut in found.planned_cuts.filter(plan__state="accepted")}:
        row = {
            "id": f"choice-{run}",
            "run": run,
            "way": "drawing",
            "reason": "short and straight",
            "at": timezone.now(),
        }
        keep_one(site=site, kind="length_choices", row=row)
    return found


def test_a_first_cut_by_tape_the_next_mark_taken_back_and_the_rest_tagged(site, doors, reel):
    page = doors.open("foreman", width=PHONE, height=844, has_touch=True, is_mobile=True)
    page.goto(f"/{site.slug}/reels/?q={reel.tag}")
    page.get_by_role("link", name=reel.tag).tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(f"{reel.tag}:")
    expect(page.get_by_text("By tape, cut there, read the mark.")).to_be_visible()
    page.get_by_role("link", name="Record a cut").tap()

    told = re.search(r"(\d+)' (\d+)\"", page.get_by_role("heading", level=1).inner_text())
    feet, inches = told[1], told[2]
    length = page.get_by_role("group", name="Length by tape")
    length.get_by_label("ft", exact=True).fill(f"{feet}/{inches}")
    page.get_by_role("button", name="Keep this cut").tap()
    expect(page.get_by_text("Whole feet in the first field")).to_be_visible()
    expect(length.get_by_label("ft", exact=True)).to_have_value(f"{feet}/{inches}")

    length.get_by_label("ft", exact=True).fill(feet)
    length.get_by_label("in", exact=True).fill(inches)
    outward = 1 if reel.inner_mark > reel.outer_mark else -1
    mark = page.get_by_role("group", name="Mark read at the cut")
    mark.get_by_label("ft printed").fill(str(int(reel.outer_mark) + outward * (int(feet) + 1)))
    page.get_by_role("button", name="Keep this cut").tap()
    expect(page.get_by_role("status").filter(has_text="Kept")).to_be_visible()
    expect(page.get_by_text(re.compile(r"Next: .*(Cut at \d+ ft|By tape)"))).to_be_visible()
    made = Cut.objects.of(site).filter(reel=reel).get()
    assert made.taped

    page.get_by_role("button", name="Undo").tap()
    expect(page.get_by_text("Taken back.")).to_be_visible()
    assert made.decisions.get().kind == "reversed"

    page.goto(f"/{site.slug}/reels/{reel.pk}/")
    page.get_by_role("link", name="Tag what is left").tap()
    page.get_by_role("button", name="Tag it").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(f"{reel.tag}-A")
    page.get_by_role("link", name="Label").tap()
    expect(page.get_by_text(f"{reel.tag}-A").first).to_be_visible()
    assert Reel.objects.of(site).get(tag=f"{reel.tag}-A").parent == reel

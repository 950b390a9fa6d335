"""A crew cuts a run at the stand in a real browser, on a phone that has no signal."""

import pytest
from django.urls import reverse
from playwright.sync_api import Locator, Page, expect

from kits.demo.services import plan_cables
from reels.models import Cut, CutDecision
from takeoff.models import Record, Run, SetAside, Stage
from tests.browser.test_receiving import PHONE, works_offline


@pytest.fixture
def run(site) -> Run:
    """A run of the demo whose cables are planned within two weeks and whose cable has an accepted plan."""
    plan_cables(site=site)
    found = Run.objects.of(site).get(name="CB-06")
    Stage.objects.of(site).filter(run=found, stage="cables").update(planned=site.today())
    return found


def hold(button: Locator) -> None:
    """Press as a hand does that means it."""
    button.scroll_into_view_if_needed()
    button.page.wait_for_timeout(500)  # what was kept before is told first, and moves the page
    button.hover()
    button.page.mouse.down()
    button.page.wait_for_timeout(650)
    button.page.mouse.up()


def reel(page: Page, tag: str) -> Locator:
    return page.locator(f'[data-reel="{tag}"]')


def tape(page: Page, tag: str, feet: str, inches: str, mark: str, past: str) -> None:
    """Write down the first cut of a reel: the tape, then the mark."""
    form = reel(page, tag).locator('form[data-way="tape"]')
    form.locator('[data-part="feet"]').fill(feet)
    form.locator('[data-part="inches"]').fill(inches)
    form.locator('[data-part="printed"]').fill(mark)
    form.locator('[data-part="past"]').fill(past)
    hold(form.get_by_role("button"))


def told(page: Page, tag: str, name: str) -> Locator:
    return reel(page, tag).locator(f'[data-told="{name}"]')


def test_a_run_is_cut_without_signal_and_all_of_it_is_in_the_books_once(site, doors, run):
    page = doors.open("foreman", **PHONE)
    page.goto(reverse("today", args=[site.slug]))
    works_offline(page)
    before = Record.objects.of(site).count()
    stand = reverse("stand", args=[site.slug, run.pk])
    page.context.set_offline(True)
    page.goto(stand)
    expect(page.get_by_role("heading", level=1)).to_have_text("CB-06: 10 to cut")
    expect(told(page, "R-532", "begins")).to_have_text("422 ft")
    expect(told(page, "R-532", "at")).to_have_text("120' 9\"")

    # A tap is none: rain presses buttons.
    form = reel(page, "R-532").locator('form[data-way="tape"]')
    form.locator('[data-part="feet"]').fill("120")
    form.locator('[data-part="printed"]').fill("543")
    form.get_by_role("button").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("CB-06: 10 to cut")

    # Taped 120 ft 9 in, and the mark says 121 ft 8 in: marks that are too long by 0.75 %.
    tape(page, "R-532", "120", "9", "543", "8")
    expect(page.get_by_role("heading", level=1)).to_have_text("CB-06: 9 to cut")
    expect(told(page, "R-532", "begins")).to_have_text("543 ft + 8 in")
    # 121.667 marks further, up to an inch that is found: no cable is shorter. The next is of the same set.
    expect(told(page, "R-532", "act")).to_have_text("cut at")
    expect(told(page, "R-532", "at")).to_have_text("665 ft + 5 in")
    expect(told(page, "R-532", "for")).to_have_text("4 × 120' 9\", next A2")
    hold(reel(page, "R-532").get_by_role("button", name="Cut there"))
    expect(told(page, "R-532", "begins")).to_have_text("665 ft + 5 in")
    third = told(page, "R-532", "at").text_content()
    hold(reel(page, "R-532").get_by_role("button", name="Cut there"))
    # B1 is the first of its set off this reel: by tape again.
    expect(told(page, "R-532", "act")).to_have_text("tape, cut there")
    expect(told(page, "R-532", "begins")).to_have_text(third)
    # The last of the reel is taken back: the mark goes back with it.
    hold(reel(page, "R-532").get_by_role("button", name="Take back A3"))
    expect(told(page, "R-532", "begins")).to_have_text("665 ft + 5 in")
    expect(told(page, "R-532", "for")).to_have_text("3 × 120' 9\", next A3")
    assert Record.objects.of(site).count() == before

    # The window is closed and opened anew, still without signal.
    page.close()
    page = doors.contexts[-1].new_page()
    page.goto(stand)
    expect(told(page, "R-532", "begins")).to_have_text("665 ft + 5 in")
    expect(page.get_by_role("heading", level=1)).to_have_text("CB-06: 8 to cut")
    expect(told(page, "R-532", "done")).to_contain_text("A1 422 ft → 543 ft + 8 in, taped 120' 9\": on this phone")
    doors.contexts[-1].set_offline(False)
    expect(told(page, "R-532", "done")).to_contain_text(
        "A2 543 ft + 8 in → 665 ft + 5 in: in the books", timeout=45_000
    )
    expect(told(page, "R-532", "begins")).to_have_text("665 ft + 5 in")

    assert Record.objects.of(site).count() == before + 4
    assert not SetAside.objects.of(site).filter(end=None).exists()
    cuts = Cut.objects.of(site).filter(reel__tag="R-532").order_by("at")
    assert [(cut.conductor.name, cut.taped, cut.by) for cut in cuts] == [
        ("A1", True, "foreman"), ("A2", False, "foreman"), ("A3", False, "foreman")
    ]  # fmt: skip
    assert [f"{mark:.4f}" for mark in (cuts[0].outer_mark, cuts[0].inner_mark)] == ["422.0000", "543.6667"]
    assert [one.kind for one in CutDecision.objects.of(site).filter(cut__in=cuts)] == ["reversed"]


def test_what_the_phone_sends_stands_where_the_server_tells_it_next(site, doors, run):
    """With signal: the page that is fetched anew says the same as the phone did."""
    page = doors.open("foreman", **PHONE)
    page.goto(reverse("stand", args=[site.slug, run.pk]))
    tape(page, "R-531", "120", "9", "3161", "")
    expect(told(page, "R-531", "done")).to_contain_text("in the books", timeout=15_000)
    phone = [told(page, "R-531", name).inner_text() for name in ("begins", "at", "left")]
    bare = doors.open("foreman", java_script_enabled=False)
    bare.goto(reverse("stand", args=[site.slug, run.pk]))
    assert [told(bare, "R-531", name).inner_text().strip() for name in ("begins", "at", "left")] == phone


@pytest.mark.parametrize(
    ("feet", "inches", "mark", "past"),
    [
        ("187/6", "", "543", ""),
        ("120", "13", "543", ""),
        ("-2", "", "543", ""),
        ("99999", "", "543", ""),
        ("120", "9", "99999", ""),
    ],
)
def test_what_cannot_be_is_not_written_down(site, doors, run, feet, inches, mark, past):
    page = doors.open("foreman", **PHONE)
    page.goto(reverse("stand", args=[site.slug, run.pk]))
    expect(page.get_by_role("heading", level=1)).to_have_text("CB-06: 10 to cut")
    tape(page, "R-532", feet, inches, mark, past)
    page.wait_for_timeout(300)
    expect(page.get_by_role("heading", level=1)).to_have_text("CB-06: 10 to cut")
    assert not Cut.objects.of(site).filter(reel__tag="R-532").exists()

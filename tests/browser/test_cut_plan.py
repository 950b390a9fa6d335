"""A cut plan at the demo site in a real browser: asked for, watched, compared, accepted, printed."""

import re
import subprocess

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from reels.models import CutPlan, Reel
from reels.planner.options import Options
from reels.plans import tasks
from reels.plans.services import ask_for_plan, run_plan
from takeoff.models import Cable, Site

QUICK = Options(seconds=2.0)


@pytest.fixture
def cable(site) -> Cable:
    return Cable.objects.of(site).get(code="LV-350")


@pytest.fixture
def worker(monkeypatch):
    """Background work waits until the test lets the worker take its turn."""
    waiting = []
    monkeypatch.setattr(type(tasks.work_out), "enqueue", lambda self, *args: waiting.append(args))

    def work() -> str:
        return tasks.work_out.func(*waiting.pop())

    return work


def planned(site: Site, cable: Cable, options: Options = QUICK) -> CutPlan:
    return run_plan(plan=ask_for_plan(site=site, cable=cable, options=options))


def test_a_planner_asks_watches_compares_accepts_and_prints(site, doors, cable, worker, tmp_path):
    page = doors.open("planner")
    page.goto("/")
    page.get_by_role("navigation", name="Work").get_by_role("link", name="Cut plan").click()
    page.get_by_role("link", name=cable.code).click()
    expect(page.get_by_text("No cut plan yet.")).to_be_visible()

    # Asked for with a mistake, then mended.
    page.get_by_label("A remnant made counts as").fill("-2")
    page.get_by_label("A remnant made counts as").evaluate("each => each.form.noValidate = true")
    page.get_by_role("button", name="Look for a plan").click()
    expect(page.get_by_text("greater than or equal to 0")).to_be_visible()
    page.get_by_label("A remnant made counts as").fill("2")
    page.get_by_label("Seconds to look for better").fill("2")
    page.get_by_role("button", name="Look for a plan").click()

    # The open page notices by itself that the worker is done.
    expect(page.get_by_role("progressbar")).to_be_visible()
    expect(page.get_by_text("waits for a worker")).to_be_visible()
    assert worker() == "proposed"
    expect(page.get_by_role("heading", name=re.compile(r"^Plan \d+ proposed"))).to_be_visible()
    expect(page.get_by_role("progressbar")).to_have_count(0)
    first = CutPlan.objects.of(site).get()
    here = Reel.objects.of(site).filter(cable=cable, planned_cuts__plan=first).distinct().count()
    assert page.locator(".reel-row svg.reel").count() == here > 0

    # What the strict order would do, beside it.
    page.get_by_role("button", name="See what the least scrap would cost").click()
    expect(page.get_by_role("progressbar")).to_be_visible()
    assert worker() == "proposed"
    expect(page.get_by_role("progressbar")).to_have_count(0)
    page.get_by_role("link", name="Compare reel by reel").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"Two plans of {cable.code}")
    expect(page.get_by_role("row", name=re.compile("^Scrap"))).to_be_visible()
    page.get_by_role("table").get_by_role("link", name=f"Plan {first.pk}").click()

    # Accepted; the list follows it.
    page.get_by_role("button", name=f"Accept plan {first.pk}").click()
    expect(page.get_by_text("the crew's cut list follows it")).to_be_visible()
    first.refresh_from_db()
    assert first.state == "accepted"
    page.get_by_role("link", name="Crew's cut list").click()
    expect(page.get_by_text("Do not cut from this list")).to_have_count(0)
    expect(page.get_by_role("cell", name="drawn, not measured: do not cut")).to_have_count(first.cuts.count())
    expect(page.get_by_text("→", exact=False).and_(page.locator("td"))).to_have_count(0)

    # The planner lets one run be cut to the drawing.
    page.get_by_role("link", name="By run").first.click()
    run = first.cuts.earliest("pk").conductor.run
    page.locator(f"#reason-{run.pk}").fill("set out on the floor, as drawn")
    page.get_by_role("button", name=f"Cut {run} to the drawing").click()
    expect(page.get_by_text(f"Kept. {run}: cut to the drawing.")).to_be_visible()
    expect(page.get_by_text("set out on the floor, as drawn")).to_be_visible()
    may = first.cuts.filter(conductor__run=run).count()
    expect(page.locator(".crew strong", has_text="→")).to_have_count(may)
    page.get_by_role("link", name="By reel").click()
    assert page.get_by_role("columnheader", name="By tape").count() == 0, "blanks are for paper"

    # On paper: blanks, cautions, no frame.
    page.set_viewport_size({"width": 688, "height": 970})  # A4 within its margins
    page.emulate_media(media="print")
    expect(page.get_by_role("columnheader", name="By tape").first).to_be_visible()
    expect(page.get_by_role("columnheader", name="Name, date").first).to_be_visible()
    expect(page.get_by_text("lifting plan governs")).to_be_visible()
    assert not page.locator(".top").is_visible()
    assert page.locator("td.blank").count() == 3 * may
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= 688, width
    # Each page of paper says whose list it is, and which page.
    page.pdf(path=tmp_path / "list.pdf", format="A5", prefer_css_page_size=True)
    text = subprocess.run(
        ["pdftotext", "-layout", tmp_path / "list.pdf", "-"], capture_output=True, text=True, check=True
    ).stdout
    pages = text.removesuffix("\f").split("\f")
    assert len(pages) > 1
    for number, told in enumerate(pages, 1):
        assert f"{site} · {cable.code} · plan {first.pk}, accepted" in told, number
        assert f"page {number} of {len(pages)}" in told, number


def test_a_search_that_runs_can_be_stopped_and_what_it_has_shows(site, doors, cable):
    plan = ask_for_plan(site=site, cable=cable, options=QUICK)
    page = doors.open("planner", width=390)
    page.goto(reverse("cut_plan_cable", args=[site.slug, cable.pk]))
    stop = page.get_by_role("button", name="Stop and keep the best so far")
    stop.focus()
    CutPlan.objects.of(site).filter(pk=plan.pk).update(
        progress="re-split, 1 s", levels={"unmetFeet": 0.0, "scrapFeet": 7.5}
    )
    expect(page.get_by_text("Best so far: cannot be cut 0 ft, scrap 7.5 ft.")).to_be_visible()
    assert page.get_by_role("progressbar").get_attribute("value") == "1"
    assert stop.evaluate("each => each === document.activeElement"), "the page follows without taking the focus away"
    page.keyboard.press("Enter")
    expect(page.get_by_text("It was asked to stop")).to_be_visible()
    expect(stop).to_have_count(0)
    plan.refresh_from_db()
    assert plan.stop_asked
    run_plan(plan=plan)
    expect(page.get_by_text("The best so far, stopped early")).to_be_visible()


def test_without_scripts_one_looks_again(site, doors, cable, worker):
    page = doors.open("planner", java_script_enabled=False)
    page.goto(reverse("cut_plan_cable", args=[site.slug, cable.pk]))
    page.get_by_label("Seconds to look for better").fill("2")
    page.get_by_role("button", name="Look for a plan").click()
    worker()
    page.get_by_role("link", name="Look again").click()
    expect(page.get_by_role("heading", name=re.compile(r"^Plan \d+ proposed"))).to_be_visible()


def test_a_viewer_sees_the_plan_and_may_not_decide(site, doors, cable):
    planned(site, cable)
    page = doors.open("viewer", width=390)
    page.goto(reverse("cut_plan_cable", args=[site.slug, cable.pk]))
    expect(page.get_by_role("heading", name="Reel by reel")).to_be_visible()
    assert page.locator("main").get_by_role("button").all_inner_texts() in ([], ["Show"])

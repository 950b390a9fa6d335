"""The pictures in docs/screens, taken from the running demo site: `pytest tests/browser --screens docs/screens`."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from tests.browser.pages import every_page
from tests.browser.test_stories import workbook

PHONE, TABLET, DESK = 390, 768, 1440
HEIGHTS = {PHONE: 844, TABLET: 1024, DESK: 900}
# Picture, the page it shows, width, light or dark.
SHOWN = [
    ("sign-in-phone", "sign-in", PHONE, "light"),
    ("today-storekeeper-phone", "today-storekeeper", PHONE, "light"),
    ("today-planner", "today-planner", DESK, "light"),
    ("runs", "runs", DESK, "light"),
    ("run", "run", DESK, "light"),
    ("run-dark", "run", DESK, "dark"),
    ("run-phone", "run", PHONE, "dark"),
    ("takeoff-line", "takeoff-line", TABLET, "light"),
    ("stock-phone", "stock", PHONE, "light"),
    ("shortages", "shortages", DESK, "light"),
    ("shortage", "shortage", DESK, "light"),
    ("shortage-dark", "shortage", TABLET, "dark"),
    ("rules", "rules", DESK, "light"),
    ("members", "members", TABLET, "light"),
]


def test_pictures_are_taken(site, doors, screens, tmp_path):
    if screens is None:
        pytest.skip("only with --screens FOLDER")
    stops = {stop.name: stop for stop in every_page(site)}
    for picture, name, width, scheme in SHOWN:
        page = doors.open(stops[name].role, width=width, height=HEIGHTS[width], scheme=scheme)
        page.goto(stops[name].url)
        expect(page.locator("h1").first).to_be_visible()
        page.screenshot(path=screens / f"{picture}.png")
        page.context.close()

    page = doors.open("planner", width=DESK)
    page.goto(reverse("load_sheets", args=[site.slug]))
    bad = [["CB-99", "covers", "2027-03-01"], ["CB-05", "painting", "2027-03-01"], ["CB-06", "covers", "soon"]]
    page.get_by_label("Workbook or CSVs").set_input_files(workbook(tmp_path / "bad.xlsx", bad))
    page.get_by_role("button", name="Check").click()
    page.screenshot(path=screens / "load-problems.png")
    good = [["CB-05", "covers", "2027-03-01"]]
    page.goto(reverse("load_sheets", args=[site.slug]))
    page.get_by_label("Workbook or CSVs").set_input_files(workbook(tmp_path / "good.xlsx", good))
    page.get_by_role("button", name="Check").click()
    page.screenshot(path=screens / "load-preview.png")
    assert {path.stem for path in screens.glob("*.png")} >= {picture for picture, *_ in SHOWN} | {"load-problems"}

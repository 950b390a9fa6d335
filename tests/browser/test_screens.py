"""
Pictures of pages, taken from the running demo site.

`pytest tests/browser/test_screens.py -m browser --screens docs/screens` renews those in the docs; `--gallery FOLDER`
takes every page in every width, light and dark, and on paper: to be looked at after any change of the look.
"""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.pages import DESK, HEIGHTS, PHONE, TABLET, every_page, furnish

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
    ("crate-phone", "crate", PHONE, "light"),
    ("gate-phone", "gate", PHONE, "light"),
    ("pick-list-phone", "pick-list", PHONE, "light"),
    ("stand-phone", "stand", PHONE, "light"),
    ("reel-phone", "reel", PHONE, "light"),
    ("orders", "orders", DESK, "light"),
    ("cut-plan", "cut-plan", DESK, "light"),
    ("cut-plan-phone", "cut-plan", PHONE, "light"),
    ("cut-plan-short", "cut-plan-short", DESK, "light"),
    ("cut-list", "cut-list", DESK, "light"),
    ("compare", "compare", DESK, "light"),
    ("headroom", "headroom", DESK, "light"),
    ("shortages", "shortages", DESK, "light"),
    ("shortage", "shortage", DESK, "light"),
    ("shortage-dark", "shortage", TABLET, "dark"),
    ("load-problems", "load-problems", DESK, "light"),
    ("load-preview", "load-preview", DESK, "light"),
    ("rules", "rules", DESK, "light"),
    ("members", "members", TABLET, "light"),
]


def test_pictures_are_taken(site, doors, screens):
    if screens is None:
        pytest.skip("only with --screens FOLDER")
    stops = {stop.name: stop for stop in [*furnish(site), *every_page(site)]}
    for picture, name, width, scheme in SHOWN:
        page = doors.visit(stops[name], width=width, scheme=scheme)
        expect(page.locator("h1").first).to_be_visible()
        page.screenshot(path=screens / f"{picture}.png")
    page = doors.open("foreman", width=688)  # A4 within its margins
    page.goto(stops["cut-list"].url)
    page.emulate_media(media="print")
    page.screenshot(path=screens / "cut-list-printed.png")


def test_the_gallery_is_taken(site, doors, gallery):
    if gallery is None:
        pytest.skip("only with --gallery FOLDER")
    for stop in [*furnish(site), *every_page(site)]:
        for width in HEIGHTS:
            for scheme in ("light", "dark"):
                page = doors.visit(stop, width=width, scheme=scheme)
                page.screenshot(path=gallery / f"{stop.name}-{width}-{scheme}.png", full_page=True)
                if (width, scheme) == (DESK, "light"):
                    on_paper(page, gallery / f"{stop.name}.pdf")


def on_paper(page: Page, path) -> None:
    """Print a page as a browser would on A4."""
    page.pdf(path=path, format="A4", margin=dict.fromkeys(("top", "right", "bottom", "left"), "14mm"))

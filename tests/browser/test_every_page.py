"""What holds on every page: accessible, quiet, within the screen, big enough to touch, light enough to load."""

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.pages import Stop, every_page, furnish

AXE = Axe()
# WCAG 2.2 up to AA, and what axe calls best practice.
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
TOUCHED = (
    "button, .button, summary, nav a, select, .tags a, .list td > a:only-child, "
    "input:not([type=hidden], [type=checkbox], [type=radio]), a.touch, .links a, label.tick"
)


@pytest.fixture
def stops(site) -> list[Stop]:
    """All pages, those that only uploads and plans lead to among them."""
    return [*furnish(site), *every_page(site)]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(stops, doors, scheme):
    found = {}
    for stop in stops:
        page = doors.open(stop.role, scheme=scheme)
        page.goto(stop.url)
        # What is folded is looked at too.
        page.evaluate("document.querySelectorAll('details').forEach(each => each.open = !each.matches('.menu'))")
        result = AXE.run(page, options=RULES)
        for violation in result.response["violations"]:
            nodes = [node["html"][:160] for node in violation["nodes"][:3]]
            found.setdefault(stop.name, []).append((violation["id"], nodes))
        page.context.close()
    assert found == {}


SPILT = """
[...document.querySelectorAll('.list td')].filter(each => each.scrollHeight > each.clientHeight + 1)
    .map(each => each.dataset.label)
"""


@pytest.mark.parametrize("width", [320, 390, 768, 1440, 2560])
def test_pages_fit_every_width(stops, doors, width):
    """No page scrolls sideways, and no label of a card runs into the next line."""
    wrong = set()
    for stop in stops:
        page = doors.open(stop.role, width=width)
        page.goto(stop.url)
        wrong |= {(stop.name, label) for label in page.evaluate(SPILT)}
        page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
        if page.evaluate("document.documentElement.scrollWidth") > width:
            wrong.add((stop.name, "scrolls sideways"))
        page.context.close()
    assert wrong == set()


def test_what_is_touched_is_44_pixels_high_and_wide(stops, doors):
    small = set()
    for stop in stops:
        page = doors.open(stop.role, width=390)
        page.goto(stop.url)
        for found in page.locator(TOUCHED).all():
            box = found.bounding_box()
            if box and box["height"] and (box["height"] < 43.9 or box["width"] < 43.9):
                small.add(
                    (stop.name, found.evaluate("each => each.outerHTML.slice(0, 120)"), box["height"], box["width"])
                )
        page.context.close()
    assert small == set()


def test_the_first_page_stays_below_100_kilobytes(site, doors):
    for name in ("sign-in", "today-storekeeper"):
        stop = next(each for each in every_page(site) if each.name == name)
        page = doors.open(stop.role, width=390)
        sizes = []
        page.on("response", lambda response, sizes=sizes: sizes.append(len(response.body())))
        page.goto(stop.url, wait_until="networkidle")
        # Not even squeezed, as a production server would send it.
        assert 0 < sum(sizes) <= 100_000, (name, sizes)
        page.context.close()


A4 = 688  # px within its margins


def test_every_page_prints_without_the_frame_and_its_lists_as_tables(stops, doors):
    for stop in stops:
        page = doors.open(stop.role, width=A4)
        page.goto(stop.url)
        page.emulate_media(media="print")
        assert not page.locator(".top").is_visible()
        assert page.locator("h1").first.is_visible(), stop.name
        shown = page.evaluate("[...document.querySelectorAll('.list td')].map(each => getComputedStyle(each).display)")
        assert set(shown) <= {"table-cell", "none"}, stop.name
        page.context.close()


LONG = "Donau-Ober-und-Untermittelspannungsschaltanlagenhilfsversorgungsabgang " * 2


def test_long_names_stay_within_a_small_phone(site, doors):
    """As long as the database takes them, in words that nothing breaks by itself."""
    for run in site.runs.all():
        run.from_equipment = run.to_equipment = LONG[:120]
        run.description, run.name = LONG[:200], f"{run.name}-{LONG}"[:60]
        run.save()
    site.items.update(description=LONG[:200], group=LONG[:60])
    site.name = LONG[:120]
    site.save()
    wide = []
    for stop in [*furnish(site), *every_page(site, run=site.runs.get(name__startswith="CB-12"))]:
        page = doors.open(stop.role, width=320)
        page.goto(stop.url)
        if page.evaluate("document.documentElement.scrollWidth") > 320:
            wide.append(stop.name)
        page.context.close()
    assert wide == []

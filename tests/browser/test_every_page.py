"""What holds on every page: accessible, quiet, within the screen, big enough to touch, light enough to load."""

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.pages import PHONE, Stop, every_page, furnish

AXE = Axe()
# WCAG 2.2 up to AA, and what axe calls best practice.
RULES = {
    "resultTypes": ["violations"],
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
}
A4 = 688  # px within its margins
LONG = "Donau-Ober-und-Untermittelspannungsschaltanlagenhilfsversorgungsabgang " * 2

UNFOLD = "document.querySelectorAll('details').forEach(each => each.open = true)"
WIDTH = "document.documentElement.scrollWidth"
SPILT = """
[...document.querySelectorAll('.list td')].filter(each => each.scrollHeight > each.clientHeight + 1)
    .map(each => each.dataset.label)
"""
TOUCHED = (
    "button, .button, summary, nav a, select, .tags a, .list td > a:only-child, "
    "input:not([type=hidden], [type=checkbox], [type=radio]), a.touch, .links a, label.tick"
)
SMALL = """
touched => [...document.querySelectorAll(touched)].map(each => [each, each.getBoundingClientRect()])
    .filter(([, box]) => box.height && (box.height < 43.9 || box.width < 43.9))
    .map(([each, box]) => [each.outerHTML.slice(0, 120), box.width, box.height])
"""
SHOWN_AS = "[...document.querySelectorAll('.list td')].map(each => getComputedStyle(each).display)"


@pytest.fixture
def stops(site) -> list[Stop]:
    """All pages, those that only uploads and plans lead to among them."""
    return [*furnish(site), *every_page(site)]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(stops, doors, scheme):
    found = {}
    for stop in stops:
        page = doors.visit(stop, scheme=scheme)
        page.evaluate(UNFOLD)
        for violation in AXE.run(page, options=RULES).response["violations"]:
            nodes = [node["html"][:160] for node in violation["nodes"][:3]]
            found.setdefault(stop.name, []).append((violation["id"], nodes))
    assert found == {}


@pytest.mark.parametrize("width", [320, 390, 768, 1440, 2560])
def test_pages_fit_every_width(stops, doors, width):
    """No page scrolls sideways, and no label of a card runs into the next line."""
    wrong = set()
    for stop in stops:
        page = doors.visit(stop, width=width)
        wrong |= {(stop.name, label) for label in page.evaluate(SPILT)}
        page.evaluate(UNFOLD)
        if page.evaluate(WIDTH) > width:
            wrong.add((stop.name, "scrolls sideways"))
    assert wrong == set()


def test_what_is_touched_is_44_pixels_high_and_wide(stops, doors):
    small = {stop.name: doors.visit(stop, width=PHONE).evaluate(SMALL, TOUCHED) for stop in stops}
    assert {name: found for name, found in small.items() if found} == {}


def test_the_first_page_stays_below_100_kilobytes(site, doors):
    for name in ("sign-in", "today-storekeeper"):
        stop = next(each for each in every_page(site) if each.name == name)
        page = doors.open(stop.role, width=PHONE)
        sizes = []
        page.on("response", lambda response, sizes=sizes: sizes.append(len(response.body())))
        page.goto(stop.url, wait_until="networkidle")
        # Not even squeezed, as a production server would send it.
        assert 0 < sum(sizes) <= 100_000, (name, sizes)


def test_every_page_prints_without_the_frame_and_its_lists_as_tables(stops, doors):
    for stop in stops:
        page = doors.visit(stop, width=A4)
        page.emulate_media(media="print")
        assert not page.locator(".top").is_visible()
        # Labels come out alone.
        assert page.locator("h1").first.is_visible() != (stop.name == "labels-on-paper"), stop.name
        assert set(page.evaluate(SHOWN_AS)) <= {"table-cell", "none"}, stop.name


def test_long_names_stay_within_a_small_phone(site, doors):
    """As long as the database takes them, in words that nothing breaks by itself."""
    furnished = furnish(site)
    for run in site.runs.all():
        run.from_equipment = run.to_equipment = LONG[:120]
        run.description, run.name = LONG[:200], f"{run.name}-{LONG}"[:60]
        run.save()
    site.items.update(description=LONG[:200], group=LONG[:60])
    site.name = LONG[:120]
    site.save()
    stops = [*furnished, *every_page(site, run=site.runs.get(name__startswith="CB-12"))]
    assert [stop.name for stop in stops if doors.visit(stop, width=320).evaluate(WIDTH) > 320] == []
